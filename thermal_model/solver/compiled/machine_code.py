"""The kernel as machine code: made with numba, loaded and called without it, since importing numba takes longer.

What is called is numba's plain function, with every argument flat; it allocates nothing and calls nothing outside.
"""

import ctypes
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Any

import llvmlite
import llvmlite.binding as llvm

from thermal_model.solver.compiled import kept
from thermal_model.solver.compiled.arguments import flat
from thermal_model.solver.compiled.vector_math import DOUBLE, SINGLE

LINEARISE, STEPS = "linearise", "steps"
FORMATS = (DOUBLE.dtype, SINGLE.dtype)

EntryPoint = Callable[..., None]


@dataclass(frozen=True)
class Kernel:
    """Entry points for one format of numbers, as in `thermal_model.solver.compiled.kernels`; each holds its code.

    Of their arguments the tables and the lanes, which stay the same for many calls, are given already flat.
    """

    linearise: EntryPoint
    steps: EntryPoint


def kernel(dtype: str = DOUBLE.dtype) -> Kernel:
    """Return the kernel: what is kept, else compiled now and kept for the next process; once for all threads."""
    with _LOADING:
        return _kernels()[dtype]


_LOADING = Lock()


@lru_cache(maxsize=1)
def _kernels() -> dict[str, Kernel]:
    code = kept.read(processor())
    if code is None:
        code = compiled_code()
        kept.keep(processor(), code)
    return loaded(code)


def is_kept() -> bool:
    """Tell whether the kernel of these sources is compiled already, for this processor, and whole."""
    return kept.read(processor()) is not None


@lru_cache(maxsize=1)
def processor() -> str:
    """Return what machine code depends on besides its sources: the processor, and who makes code for it."""
    return " ".join([llvm.get_process_triple(), *_processor(), llvmlite.__version__])


def _processor() -> tuple[str, str]:
    return llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten()


def _target_machine() -> Any:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    cpu, features = _processor()
    target = llvm.Target.from_triple(llvm.get_process_triple())
    return target.create_target_machine(cpu=cpu, features=features, opt=3, codemodel="jitdefault", jit=True)


def compiled_code() -> bytes:
    """Return the kernel as an object file; takes some seconds."""
    from thermal_model.solver.compiled.kernels import entry_points

    module = llvm.parse_assembly("")
    module.triple = llvm.get_process_triple()
    for dtype in FORMATS:
        for function, signature in entry_points(dtype).items():
            name = _name(function.__name__, dtype)
            module.link_in(intermediate_code(function, signature, name))
    return bytes(_target_machine().emit_object(module))


def _name(entry: str, dtype: str) -> str:
    return f"{entry}_{dtype}"


def intermediate_code(function: Callable[..., None], signature: Any, name: str) -> llvm.ModuleRef:
    """Return the code that numba makes of an entry point, which bears a name, with all that it calls."""
    from numba import njit

    from thermal_model.solver.compiled.kernels import OPTIONS

    options: dict[str, Any] = {**OPTIONS, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    made: Any = njit(signature, **options)(function)
    result = made.overloads[made.signatures[0]]
    module = llvm.parse_assembly(result.library.get_llvm_str())
    module.get_function(result.fndesc.llvm_func_name).name = name
    return module


def loaded(code: bytes) -> dict[str, Kernel]:
    """Return the entry points of an object file, by their format of numbers."""
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), _target_machine())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return {dtype: Kernel(_entry(engine, LINEARISE, dtype), _entry(engine, STEPS, dtype)) for dtype in FORMATS}


def _entry(engine: Any, entry: str, dtype: str) -> EntryPoint:
    name = _name(entry, dtype)
    address = engine.get_function_address(name)
    if not address:
        raise RuntimeError(f"the kept kernel has no {name}")
    number, place = ctypes.c_ssize_t, ctypes.c_void_p

    @lru_cache
    def function(count: int) -> Any:
        return ctypes.CFUNCTYPE(ctypes.c_int, place, place, *[number] * count)(address)

    def call(shared: tuple[int, ...], *arguments: Any) -> None:
        given, result, problem = (*shared, *flat(*arguments, dtype=dtype)), place(), place()
        # The engine is named here so that the code lives as long as what calls it.
        if function(len(given))(ctypes.byref(result), ctypes.byref(problem), *given):
            raise RuntimeError(f"{name} of {engine} failed")

    return call
