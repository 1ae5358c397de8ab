"""The kernel's Python, read once and written in other languages: one source, and no copy by hand.

`front` reads functions into the small typed language of `tree`; `wasm` and `c` write that as a WebAssembly module, which the
book's pages run, and as C, which the benchmarks run. Standard library only.
"""
