"""Puts changed code in the place of living code, without importing anything again.

Only what runs later can be swapped: the inside of functions, and values of a module that nothing
else was made of while it was imported.
"""

from __future__ import annotations

import ast
import gc
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

#: of code that is a function's; a module and the body of a class have neither
_IN_FUNCTION = 0x1 | 0x2
_OURS = ("config", "equipment", "jobs", "tests")
_PARTS = ("co_code", "co_names", "co_varnames", "co_freevars", "co_cellvars", "co_exceptiontable")


class CannotSwap(Exception):
    """It takes effect while a module is imported."""


class Living:
    """The functions there are, by file, line and name; made once, before a fault is planted."""

    def __init__(self) -> None:
        root = str(Path.cwd())
        self._found: dict[tuple[str, int, str], list[FunctionType]] = {}
        for each in gc.get_objects():
            if type(each) is FunctionType and each.__code__.co_filename.startswith(root):
                self._found.setdefault(_key(each.__code__), []).append(each)

    def of(self, code: CodeType) -> list[FunctionType]:
        return self._found.get(_key(code), [])


def swap(path: str, old: str, new: str, living: Living) -> None:
    """Plants it, or raises CannotSwap and has changed nothing."""
    module = sys.modules.get(module_name(path))
    if module is None:  # whoever needs it will find it in the file
        return
    before, after = (_compiled(path, text) for text in (old, new))
    values = {} if _same(before, after, inside=False) else _new_values(module, old, new)
    found = [(living.of(b), a) for b, a in changed_functions(before, after)]
    for functions, code in found:
        if not functions and "<locals>" not in code.co_qualname:
            raise CannotSwap(f"{code.co_qualname} is not there")
        if any(each.__code__.co_freevars != code.co_freevars for each in functions):
            raise CannotSwap(f"{code.co_qualname} closes over something else")
    for functions, code in found:
        for function in functions:
            function.__code__ = code
    for name, value in values.items():
        _replace(name, vars(module)[name], value)


def changed_functions(before: CodeType, after: CodeType) -> Iterator[tuple[CodeType, CodeType]]:
    """The functions of a module that differ, and those inside them, each with its new code."""
    if len(_inner(before)) != len(_inner(after)):
        raise CannotSwap("other functions")
    for inner, new in zip(_inner(before), _inner(after), strict=True):
        if _same(inner, new):
            continue
        if inner.co_flags & _IN_FUNCTION:
            if inner.co_name.startswith("<") and inner.co_name != "<lambda>":
                raise CannotSwap(f"{inner.co_name} at import")
            yield inner, new
            yield from zip(_all_inner(inner), _all_inner(new), strict=False)
        elif _same(inner, new, inside=False):
            yield from changed_functions(inner, new)
        else:
            raise CannotSwap(f"body of {inner.co_qualname}")


def module_name(path: str) -> str:
    return path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def _compiled(path: str, text: str) -> CodeType:
    return compile(text, str(Path.cwd() / path), "exec", dont_inherit=True)


def _key(code: CodeType) -> tuple[str, int, str]:
    return code.co_filename, code.co_firstlineno, code.co_qualname


def _inner(code: CodeType) -> list[CodeType]:
    return [each for each in code.co_consts if isinstance(each, CodeType)]


def _all_inner(code: CodeType) -> list[CodeType]:
    return [found for each in _inner(code) for found in (each, *_all_inner(each))]


def _same(one: CodeType, other: CodeType, *, inside: bool = True) -> bool:
    """Wherever it stands in the file; inside=False looks past the functions and classes in it."""
    if any(getattr(one, part) != getattr(other, part) for part in _PARTS):
        return False
    if len(one.co_consts) != len(other.co_consts):
        return False
    for mine, yours in zip(one.co_consts, other.co_consts, strict=True):
        if isinstance(mine, CodeType) and isinstance(yours, CodeType):
            if inside and not _same(mine, yours):
                return False
        elif type(mine) is not type(yours) or mine != yours or repr(mine) != repr(yours):
            return False
    return True


def _new_values(module: ModuleType, old: str, new: str) -> dict[str, object]:
    """What the one changed assignment of the module now says."""
    before, after = ast.parse(old), ast.parse(new)
    if len(before.body) != len(after.body):
        raise CannotSwap("other statements")
    values: dict[str, object] = {}
    for was, now in zip(before.body, after.body, strict=True):
        if ast.dump(was) == ast.dump(now):
            continue
        if not isinstance(now, ast.Assign | ast.AnnAssign):
            raise CannotSwap(f"line {now.lineno}")
        space = dict(vars(module))
        exec(compile(ast.Module([now], []), module.__file__ or "", "exec"), space)
        names = [n.id for n in ast.walk(now) if isinstance(n, ast.Name) and _stored(n)]
        changed = {name: space[name] for name in names if space[name] != vars(module)[name]}
        if used := set(changed) & set(_read_at_import(before)):
            raise CannotSwap(f"{used} used at import")
        values |= changed
    return values


def _stored(name: ast.Name) -> bool:
    return isinstance(name.ctx, ast.Store)


def _read_at_import(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Name) and not _stored(node):
        yield node.id
    inside = isinstance(node, ast.FunctionDef | ast.Lambda)
    for field, value in ast.iter_fields(node):
        if inside and field in ("body", "returns"):
            continue
        for each in value if isinstance(value, list) else [value]:
            if isinstance(each, ast.AST):
                yield from _read_at_import(each)


def _replace(name: str, old: object, new: object) -> None:
    """In the module itself and in each that imported it by this name."""
    for module in list(sys.modules.values()):
        ours = getattr(module, "__name__", "").startswith(_OURS)
        if ours and vars(module).get(name, module) is old:
            setattr(module, name, new)
