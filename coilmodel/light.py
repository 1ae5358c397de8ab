"""The kernel compiled by LLVM alone: numba's own compiler, without numba, numpy and the 60 MB that the two take to load.

For a process of which there are many at a time, such as the kernels of eleven open notebooks. The kernel's text is translated
(coilmodel/translate), compiled once, and kept as machine code beside the source; a change of the text, of the translator, of LLVM
or of the processor makes it anew. What is kept carries its own digest, so that a file cut short is never run.

Needs llvmlite, which comes with numba. Raises ImportError where it is missing.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import inspect
import os
import secrets
from array import array
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import llvmlite
import llvmlite.binding as llvm

from coilmodel.fingerprint import fingerprint

HERE = Path(__file__).parent
_DIGEST = 32  # bytes of SHA-256 before the machine code in a kept file


def fastest(function: Any) -> Callable[..., Any]:
    """Return a compiled form of `function`, which takes one tuple or buffer of floats after another and gives nothing.

    It is compiled, or fetched from where it is kept, at its first call, and lets other threads run meanwhile. Raises ValueError
    for a function of another form.
    """
    names = tuple(inspect.signature(function).parameters)
    made: list[tuple[Callable[..., None], Any]] = []

    def compiled(*given: Sequence[float]) -> None:
        if len(given) != len(names):
            raise ValueError(f"{function.__name__} takes {', '.join(names)}; {len(given)} were given.")
        numbers = [_flat(name, one) for name, one in zip(names, given, strict=True)]
        if not made:
            made.append(_running(function, len(names)))
        made[0][0](*(part for one in numbers for part in one.buffer_info()))

    compiled.__doc__, compiled.__name__ = function.__doc__, function.__name__
    return compiled


def buffer(size: int) -> Any:
    """Return a zeroed float buffer of `size` numbers that a compiled function can fill."""
    return array("d", bytes(8 * size))


def _flat(name: str, given: Any) -> array[float]:
    if isinstance(given, tuple):
        return array("d", given)
    if isinstance(given, array) and given.typecode == "d":
        return given
    raise ValueError(f"{name}: {type(given).__name__} is neither a tuple nor a buffer of floats.")


# ----------------------------------------------------------------------------------------------------- compiling
@cache
def _processor() -> tuple[str, str, str]:
    """Return LLVM's words for the system, the processor and its features; for the last two as numba is told to say them."""
    name, features = os.environ.get("NUMBA_CPU_NAME"), os.environ.get("NUMBA_CPU_FEATURES")
    return (llvm.get_process_triple(), name or llvm.get_host_cpu_name(),
            llvm.get_host_cpu_features().flatten() if features is None else features)


def _machine() -> Any:
    """Return a machine to compile for: a new one each time, since an engine takes it for its own."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    triple, name, features = _processor()
    return llvm.Target.from_triple(triple).create_target_machine(cpu=name, features=features, opt=3, codemodel="jitdefault")


def machine_code(function: Callable[..., None]) -> bytes:
    """Return `function` and those that it calls as an object file for this processor. Takes about a second."""
    from coilmodel.translate.front import program
    from coilmodel.translate.llvm import llvm_text

    module = llvm.parse_assembly(llvm_text(program(function)))
    module.verify()
    machine = _machine()
    passes = llvm.create_pass_builder(machine, llvm.create_pipeline_tuning_options(speed_level=3))
    passes.getModulePassManager().run(module, passes)
    return bytes(machine.emit_object(module))


def kept_at(function: Any) -> Path:
    """Return where the machine code of `function` is kept: the name says all that it depends on."""
    seen = hashlib.sha256(repr((llvmlite.__version__, llvm.llvm_version_info, _processor(), fingerprint(function))).encode())
    source = Path(inspect.getfile(function))
    for path in (Path(__file__), *sorted((HERE / "translate").glob("*.py"))):
        seen.update(hashlib.sha256(path.read_bytes()).digest())
    return source.parent / "__pycache__" / f"{source.stem}.{function.__name__}.{seen.hexdigest()[:24]}.code"


def _fetched(path: Path) -> bytes | None:
    with contextlib.suppress(OSError):
        content = path.read_bytes()
        if hashlib.sha256(content[_DIGEST:]).digest() == content[:_DIGEST]:
            return content[_DIGEST:]
    return None


def _keep(path: Path, code: bytes) -> None:
    """Keep the code, and drop what was kept of the same function before. Where nothing can be written, each start compiles."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(exist_ok=True)
        temporary = path.with_name(f"{path.name}.{secrets.token_hex(4)}")
        temporary.write_bytes(hashlib.sha256(code).digest() + code)
        os.replace(temporary, path)
        for old in path.parent.glob(f"{'.'.join(path.name.split('.')[:2])}.*.code"):
            if old != path:
                old.unlink()


def _running(function: Callable[..., None], parameters: int) -> tuple[Callable[..., None], Any]:
    """Return the compiled function, and what owns the memory that it runs in: to be kept as long as it is called."""
    path = kept_at(function)
    code = _fetched(path)
    if code is None:
        code = machine_code(function)
        _keep(path, code)
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _machine())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    address = engine.get_function_address(function.__name__)
    return ctypes.CFUNCTYPE(None, *(2 * parameters * [ctypes.c_int64]))(address), engine  # of a buffer: its address, and how many
