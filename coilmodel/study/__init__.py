"""Tolerance studies: how often a coil set so is unsound (misfires, or fires twice), and what is to blame.

`plan` says what varies and how, `draw` draws the coils, `trial` runs one, `store` keeps what came out, `work` carries a study
through (on all cores or on a cluster, interrupted or not), `findings` reads it. Natively only: numpy, scipy, joblib.

>>> from coilmodel.study import parse_plan
>>> parse_plan('[study]\\nruns = 64\\n[vary]\\n"cushion.preload" = {like = "lognormal", percent = 6}').total
192
"""

from coilmodel.study.findings import Findings, find
from coilmodel.study.plan import Plan, Varied, parse_plan, read_plan, template
from coilmodel.study.store import Study
from coilmodel.study.work import run_study

__all__ = ["Findings", "Plan", "Study", "Varied", "find", "parse_plan", "read_plan", "run_study", "template"]
