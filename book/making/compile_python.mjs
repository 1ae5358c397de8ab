// node compile_python.mjs FOLDER_OF_PYODIDE COURSE.zip FOLDER: both zips with Python as bytecode into FOLDER (see bytecode.py).
import fs from "node:fs";
import path from "node:path";
import { pathToFileURL } from "node:url";

const [, , given, course, to] = process.argv;
const folder = path.resolve(given);
const { loadPyodide } = await import(pathToFileURL(path.join(folder, "pyodide.mjs")));
// the order of sets of text is in the bytecode: with a fixed seed the same text gives the same bytes
const python = await loadPyodide({ indexURL: folder + path.sep, env: { PYTHONHASHSEED: "0", HOME: "/home/pyodide" } });
for (const [name, place] of [["course.zip", course], ["python_stdlib.zip", path.join(folder, "python_stdlib.zip")]]) {
  python.FS.writeFile(`/${name}`, new Uint8Array(fs.readFileSync(place)));
}
python.FS.mkdir("/made");
// what a page's start loads of the library, found by a start: as in worker.js, then all panels and exercises
try {
  python.unpackArchive(new Uint8Array(fs.readFileSync(course)), "zip", { extractDir: "/course" });
  python.runPython(`
import sys
sys.path.insert(0, "/course")
from lessons.engine import Engine
engine = Engine()
engine.panels, engine.exercises
loaded = {module.__file__ for module in list(sys.modules.values()) if getattr(module, "__file__", None)}

import ast, importlib.util, zipfile
from importlib._bootstrap_external import _code_to_hash_pyc

# What a page cannot use, for it wants processes, sockets or a terminal; a seventh of the library.
LEFT_OUT = {"multiprocessing", "_pyrepl", "unittest", "pdb.py", "doctest.py", "pydoc.py", "pydoc_data", "xmlrpc", "wsgiref",
            "imaplib.py", "smtplib.py", "ftplib.py", "poplib.py", "socketserver.py", "mailbox.py", "curses", "pickletools.py",
            "profile.py", "cProfile.py", "pstats.py", "trace.py", "profiling", "sqlite3", "dbm", "webbrowser.py", "cmd.py", "bdb.py",
            "plistlib.py", "turtle.py", "ensurepip", "venv", "idlelib", "_pyio.py", "compileall.py", "pyclbr.py", "modulefinder.py"}

def code_of(content, place):
    tree = ast.parse(content, place)
    if not place.startswith(("pyodide", "_pyodide")):  # nobody reads docstrings in a page; an empty one would be made up anew
        for node in ast.walk(tree):
            if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)) and ast.get_docstring(node, False):
                node.body[0].value.value = "-"
    return compile(tree, place, "exec", dont_inherit=True, optimize=0)

def compiled(name, wanted):
    with zipfile.ZipFile(f"/{name}") as old, zipfile.ZipFile(f"/made/{name}", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as new:
        for entry in old.infolist():
            place, content = entry.filename, old.read(entry)
            if name == "python_stdlib.zip" and place.split("/")[0] in LEFT_OUT:
                continue
            if place.endswith(".py") and wanted(place):
                code = code_of(content, place)
                place, content = place + "c", bytes(_code_to_hash_pyc(code, importlib.util.source_hash(content), checked=False))
            made = zipfile.ZipInfo(place, date_time=(1980, 1, 1, 0, 0, 0))
            made.external_attr, made.compress_type = entry.external_attr, zipfile.ZIP_DEFLATED
            new.writestr(made, content)

library = {place.partition(".zip/")[2] for place in loaded if ".zip/" in place}
if not library >= {"dataclasses.py", "json/__init__.py"}:
    raise RuntimeError("Python's library is not where it was; look at book/making/compile_python.mjs")
if wrong := LEFT_OUT & {place.split("/")[0] for place in library}:
    raise RuntimeError(f"a start loads {wrong}; take it out of LEFT_OUT in book/making/compile_python.mjs")
compiled("course.zip", lambda place: True)
compiled("python_stdlib.zip", library.__contains__)
`);
} catch (error) {
  fs.writeSync(2, `Error: ${String(error.message).trim().split("\n").pop()}\n`); // Node's own report begins with a megabyte of script
  process.exit(1);
}
for (const name of ["course.zip", "python_stdlib.zip"]) fs.writeFileSync(path.join(to, name), python.FS.readFile(`/made/${name}`));
process.exit(0);
