"""JupyterLab with the lessons in it, started as `course.py learn` starts it, and its pages in a real browser."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from .browsing import LIVE, ROOT

QUIET = {"fetchNews": "false", "checkForUpdates": False}
RUN_ALL = """async () => {
    const lab = globalThis.jupyterapp;
    const cells = lab.shell.currentWidget.content.widgets.filter(({model}) => model.type === "code");
    await lab.commands.execute("notebook:run-all-cells");
    const outputs = cells.flatMap(({model}) => model.outputs.toJSON());
    return outputs.filter((output) => output.output_type === "error").map((output) => output.evalue);
}"""
READY = """() => {
    const shown = globalThis.jupyterapp?.shell.currentWidget;
    return shown?.context?.isReady && shown.sessionContext?.session?.kernel?.status === "idle";
}"""
OPEN = """async (path) => {
    const lab = globalThis.jupyterapp;
    await lab.restored;
    for (const widget of [...lab.shell.widgets("main")]) if (widget.context) widget.dispose();
    await lab.commands.execute("docmanager:open", {path});
}"""
SHUT = """async () => {
    for (const shown of [...globalThis.jupyterapp.shell.widgets("main")].filter(({sessionContext}) => sessionContext)) {
        await shown.sessionContext.shutdown();
        shown.dispose();
    }
}"""
ASKED = """([arg, limit]) => {
    const told = () => {
        const shown = globalThis.jupyterapp?.shell.currentWidget;
        const {status, connectionStatus} = shown?.sessionContext?.session?.kernel ?? {};
        const dialogs = [...document.querySelectorAll(".jp-Dialog")].map((dialog) => dialog.innerText);
        return `kernel ${status}, ${connectionStatus}; dialogs: ${JSON.stringify(dialogs)}`;
    };
    const late = new Promise((_, no) => setTimeout(() => no(new Error(`no answer in ${limit / 1000} s; ${told()}`)), limit));
    return Promise.race([(SCRIPT)(arg), late]);
}"""
"""A promise of JupyterLab's may wait for a kernel or a dialog for ever, and the browser's driver with it."""
SCROLL_TO = "(index) => globalThis.jupyterapp.shell.currentWidget.content.scrollToItem(index, 'start')"


def lessons_in(folder: Path) -> Path:
    """Copy the notebooks into `folder`, with all that they read there; return the folder."""
    shutil.copytree(ROOT / "lessons/examples", folder / "examples")
    for notebook in sorted((ROOT / "lessons").glob("[0-9]*.ipynb")):
        shutil.copy(notebook, folder)
    return folder


def asked(page: Any, script: str, arg: Any = None) -> Any:
    """Return what a function of the page, which may return a promise, makes of `arg`; if late, raise, saying how all stands."""
    return page.evaluate(ASKED.replace("SCRIPT", script), [arg, 2 * LIVE])


@contextlib.contextmanager
def started(command: Sequence[str], home: Path, variables: Mapping[str, str], cwd: Path) -> Iterator[str]:
    """Run a JupyterLab whose settings, runtime and learner are all in `home`; yield its address when it answers."""
    folders = ("JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR")
    kept = {name: str(home / name.lower()) for name in folders}
    settings = home / "jupyter_config_dir/lab/user-settings/@jupyterlab/apputils-extension/notification.jupyterlab-settings"
    settings.parent.mkdir(parents=True)
    settings.write_text(json.dumps(QUIET), encoding="utf-8")
    options = ["--no-browser", "--ServerApp.port=0", "--IdentityProvider.token=", "--LabApp.expose_app_in_browser=True"]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        options.append("--allow-root")
    log = home / "jupyterlab.log"
    with log.open("w", encoding="utf-8") as out, subprocess.Popen(
        [*command, *options], stdout=out, stderr=subprocess.STDOUT, cwd=cwd, env={**variables, **kept}
    ) as server:
        try:
            yield _address(server, log)
        finally:
            server.terminate()
            try:
                server.wait(timeout=20)
            except subprocess.TimeoutExpired:
                server.kill()


def _address(server: subprocess.Popen[bytes], log: Path) -> str:
    end = time.monotonic() + 60
    while time.monotonic() < end and server.poll() is None:
        found = re.search(r"http://(?:127\.0\.0\.1|localhost):(\d+)/", log.read_text(encoding="utf-8"))
        with contextlib.suppress(OSError):
            if found and urllib.request.urlopen(f"http://127.0.0.1:{found.group(1)}/api", timeout=5).status == 200:
                return f"http://127.0.0.1:{found.group(1)}/"
        time.sleep(0.1)
    raise AssertionError(f"JupyterLab did not start:\n{log.read_text(encoding='utf-8')[-3000:]}")


@contextlib.contextmanager
def learning(home: Path, lessons: Path) -> Iterator[str]:
    """JupyterLab as `course.py learn` starts it, on a copy of the lessons."""
    import course

    variables = {**os.environ, **course.KERNELS, "PYTHONPATH": str(ROOT), "COIL_COURSE_RECORD": str(home / "my-progress.json")}
    with started([sys.executable, "-m", "jupyterlab", *course.lab_options(lessons)], home, variables, lessons) as address:
        yield address


def opened(page: Any, address: str, notebook: str) -> None:
    """Open the notebook in a workspace of its own and run all its cells; raise AssertionError with what a cell complains of."""
    page.goto(f"{address}lab/workspaces/{Path(notebook).stem}/tree/{notebook}")
    page.wait_for_function(READY, timeout=2 * LIVE)
    faults = asked(page, RUN_ALL)
    assert faults == [], f"{notebook}: {faults}"


def opened_too(page: Any, notebook: str, run: bool = True) -> None:
    """As `opened`, in the JupyterLab that `page` shows already, in the place of what is open there; `run` its cells or not."""
    page.wait_for_function("globalThis.jupyterapp", timeout=2 * LIVE)
    asked(page, OPEN, notebook)
    page.wait_for_function(f"(path) => ({READY})() && globalThis.jupyterapp.shell.currentWidget.context.path === path",
                           arg=notebook, timeout=2 * LIVE)
    faults = asked(page, RUN_ALL) if run else []
    assert faults == [], f"{notebook}: {faults}"


def cells_showing(notebook: Path, what: str) -> dict[str, int]:
    """Return {name: index of the cell} of each panel("name") or exercise("key") in the notebook."""
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    found = {}
    for index, cell in enumerate(cells):
        for name in re.findall(rf'^{what}\("([^"]+)"\)', "".join(cell["source"]), re.MULTILINE):
            found[name] = index
    return found


def brought(page: Any, selector: str, index: int) -> Any:
    """Scroll to cell number `index` and return the element in its output, once it is live."""
    page.evaluate(SCROLL_TO, index)
    element = page.locator(f".jp-Notebook {selector}").first
    element.scroll_into_view_if_needed(timeout=LIVE)
    page.locator(f".jp-Notebook {selector}[data-state=live]").first.wait_for(timeout=LIVE)
    return element
