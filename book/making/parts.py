"""Lay out what the pages load beside their HTML: Python for the browser, the live files, the formulas' renderer."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import tempfile
from importlib.util import find_spec
from pathlib import Path

from book.making import bytecode, early, home_drawings, kernel_module, plain
from book.making.places import LIVE, NODE_MODULES, STATIC, BuildError, keep_only, write_if_changed

PYODIDE_FILES = ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", bytecode.LIBRARY)
# joined: one small file to fetch, and to run where nothing can be imported
PAGE_SCRIPTS = ("record.js", "pool.js", "early.js", "host.js", "address.js", "page.js")
# One icon of the theme's script: name: [width, height, [other names], "code point", "path" or [paths]],
_ICON = re.compile(r'(?:"([a-z0-9-]+)"|([a-z][a-z0-9]*)):\[\d+,\d+,\[[^\]]*\],"[0-9a-f]*",(?:"[^"]*"|\[[^\]]*\])\],?')
CARRIED = "carried.js"
_OWN_IMPORT = re.compile(r'^import \{[^}]*\} from "\./(?:parts|record|pool|early|host|address)\.js";\n', re.MULTILINE)
_ICON_NAME = re.compile(r"\bfa-([a-z0-9]+(?:-[a-z0-9]+)*)")


def installed(package: str) -> Path:
    """Return the folder of an npm package, or raise BuildError saying how to get it."""
    folder = NODE_MODULES / package
    if not (folder / "package.json").is_file():
        raise BuildError(f"{package} is not in {NODE_MODULES}; `python3 course.py book` fetches it, or run `npm ci` in book/.")
    return folder


def version_of(package: str) -> str:
    """Return the version of an installed npm package."""
    return str(json.loads((installed(package) / "package.json").read_text(encoding="utf-8"))["version"])


def pyodide_folder() -> str:
    """Return the name of the folder of Python for the browser, which changes with its version."""
    return f"pyodide-{version_of('pyodide')}"


def pyodide_files() -> dict[str, bytes]:
    """Return {file name: content} of Python for the browser, its library as bytecode.

    The package list that comes with it names hundreds of packages that we do not ship; only its header is kept.
    """
    source = installed("pyodide")
    files = {name: (source / name).read_bytes() for name in PYODIDE_FILES}
    files[bytecode.LIBRARY] = as_bytecode()[bytecode.LIBRARY]
    lock = json.loads((source / "pyodide-lock.json").read_text(encoding="utf-8"))
    files["pyodide-lock.json"] = json.dumps({"info": lock["info"], "packages": {}}).encode()
    return files


def as_bytecode() -> dict[str, bytes]:
    """Return the zips of the course's Python and of Python's library, as bytecode of the page's Python."""
    return bytecode.compiled(plain.zip_of(plain.plain_modules()), installed("pyodide"))


def mathjax_files() -> dict[str, bytes]:
    """Return the renderer of formulas and its fonts."""
    source = installed("mathjax") / "es5"
    fonts = sorted((source / "output/chtml/fonts/woff-v2").glob("*.woff"))
    if not fonts:
        raise BuildError("mathjax came without its fonts: book/node_modules/mathjax/es5/output/chtml/fonts/woff-v2 is empty.")
    paths = [source / "tex-mml-chtml.js", *fonts]
    return {f"mathjax/{path.relative_to(source).as_posix()}": path.read_bytes() for path in paths}


def page_script() -> bytes:
    """Return the script of every page: the modules of book/live joined, their imports of each other taken out."""
    texts = [f"const PYTHON = {json.dumps(pyodide_folder())};\n"]
    texts += [_OWN_IMPORT.sub("", (LIVE / name).read_text(encoding="utf-8")) for name in PAGE_SCRIPTS]
    joined = re.sub(r"^export ", "", "\n".join(texts), flags=re.MULTILINE)
    if re.search(r"^(?:import|export)\b", joined, re.MULTILINE):
        raise BuildError("A script of book/live imports or exports in a way that book/making/parts.py cannot join.")
    return joined.encode()


def live_files() -> dict[str, bytes]:
    """Return {file name: content} of what makes a page alive, but for Python itself."""
    from lessons.face import assemble

    return {
        **{name: (LIVE / name).read_bytes() for name in ("start.js", "offline.js", "worker.js", "kernel.js", "runner.js")},
        "kernel.wasm": kernel_module.checked_module(),
        "page.js": page_script(),
        "face.js": assemble.module_text().encode(),
        bytecode.COURSE: as_bytecode()[bytecode.COURSE],
        **plain.fetched_when_wanted(),
        **early.early_files(),
    }


def carried(files: dict[str, bytes]) -> bytes:
    """Return a script that hands over `files`, gzipped and as text: a page opened by a double click may fetch nothing."""
    packed = {name: base64.b64encode(gzip.compress(content, 9, mtime=0)).decode() for name, content in files.items()}
    return f"coilCarried({json.dumps(packed, indent=0)});\n".encode()


def style() -> bytes:
    """Return the one style sheet of the course: that of the page and that of the face."""
    from lessons.face import assemble

    return (LIVE / "course.css").read_bytes() + b"\n" + assemble.style_text().encode() + home_drawings.style().encode()


def lay_out() -> tuple[int, int]:
    """Write all of it under `STATIC` and try the zip; return the numbers of panels and exercises that run in the page.

    The folder of the live files is named by their content, so a browser that kept yesterday's page never mixes it with
    today's model.
    """
    python, live = pyodide_files(), live_files()
    named = b"".join(name.encode() + content for name, content in sorted((python | live).items()))
    digest = hashlib.sha256(named).hexdigest()[:10]
    live[CARRIED] = carried(python | live)
    files = {f"{pyodide_folder()}/{name}": content for name, content in python.items()}
    files |= {f"live/{digest}/{name}": content for name, content in live.items()}
    files |= {**mathjax_files(), "course.css": style()}
    for path, content in files.items():
        write_if_changed(STATIC / path, content)
    keep_only(STATIC, {STATIC / path for path in files})
    with tempfile.TemporaryDirectory() as folder:
        text = Path(folder) / bytecode.COURSE  # as text, for this Python
        text.write_bytes(plain.zip_of(plain.plain_modules()))
        return plain.check_plain(text)


def theme_icons() -> Path:
    """Return the theme's icon script."""
    spec = find_spec("pydata_sphinx_theme")
    if spec is None or spec.origin is None:
        raise BuildError("pydata-sphinx-theme is not installed; install requirements.txt.")
    return Path(spec.origin).parent / "theme/pydata_sphinx_theme/static/scripts/fontawesome.js"


def used_icons(html: Path) -> set[str]:
    """Return the names of the icons that some page or some script of the theme asks for."""
    texts = [*html.rglob("*.html"), *html.glob("_static/scripts/*theme.js"), *html.glob("_static/*.js")]
    return {name for path in texts for name in _ICON_NAME.findall(path.read_text(encoding="utf-8"))}


def icon_names(script: str) -> set[str]:
    """Return every name under which the icon script knows an icon."""
    return {name for entry in _ICON.finditer(script) for name in _names(entry)}


def _names(entry: re.Match[str]) -> set[str]:
    return {entry.group(1) or entry.group(2), *re.findall(r'"([a-z][a-z0-9-]*)"', entry.group(0).split("]")[0])}


def only_used_icons(html: Path) -> int:
    """Rewrite the theme's icon script in `html` with the icons that are used; return how many are left.

    It weighs 1.5 MB with all 2,000, which is more than a whole page may. Raises BuildError if its form has changed.
    """
    text, wanted = theme_icons().read_text(encoding="utf-8"), used_icons(html)
    if len(icon_names(text)) < 1500 or "magnifying-glass" not in icon_names(text):
        raise BuildError(f"{theme_icons()} has a new form; look at _ICON in book/making/parts.py.")
    kept = _ICON.sub(lambda entry: entry.group(0) if wanted & _names(entry) else "", text)
    write_if_changed(html / "_static/scripts/fontawesome.js", kept.encode())
    return sum(1 for _ in _ICON.finditer(kept))
