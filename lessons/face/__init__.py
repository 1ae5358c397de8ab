"""The one face: draws any Picture and any exercise form, in JupyterLab and in the static book, without knowing the physics.

`assemble` makes the self-contained ES module of custom elements, `widget` carries it into a notebook, `standin` draws the
same pictures for print. `coilbench/hues.json` is the one place where a quantity gets its hue.
"""
