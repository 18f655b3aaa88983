"""Small changes to the source of the guard and of the state table, one at a time: the mutants.

A mutant is a whole module with one node of its syntax tree changed. Not changed are docstrings, annotations,
aliases of types, decorators, imports and the bodies of protocols: they do nothing at run time, or the type
checker holds them.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TARGETS = (
    "controller/firing/states.py",
    *(
        f"controller/guard/{name}.py"
        for name in ("find", "guard", "judge", "latches", "look", "memory", "rows", "sight")
    ),
)
COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
ADDED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Mod: ast.Mult,
    ast.BitOr: ast.BitAnd,
}
STATES = (
    "IDLE",
    "RUNNING",
    "HOLDING",
    "HELD",
    "RESTARTING",
    "STOPPING",
    "STOPPED",
    "ABORTING",
    "ABORTED",
    "COMPLETE",
)
CUES = ("START", "HOLD", "RESTART", "RELEASE", "STOP", "ABORT", "RESET", "TRIP", "DONE", "FINISHED")


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change. `name` says where and what, and stays the same while other lines move."""

    file: str
    name: str
    line: int
    source: str


def mutants(file: str) -> Iterator[Mutant]:
    """Give every mutant of a file, in the order of its source."""
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    seen: dict[str, int] = {}
    for path, place in list(_nodes(tree, (), "")):
        node = _at(tree, path)
        for what, changed in _changes(node):
            name = f"{place or 'module'}: {what}"
            seen[name] = seen.get(name, 0) + 1
            if seen[name] > 1:
                name += f" ({seen[name]})"
            _put(tree, path, changed)
            source = ast.unparse(tree)
            _put(tree, path, node)
            yield Mutant(file, name, getattr(node, "lineno", 0), source)


Path_ = tuple[tuple[str, int | None], ...]
SKIPPED = ("annotation", "returns", "decorator_list", "type_comment", "bases", "names", "ctx")


def _nodes(node: ast.AST, path: Path_, place: str) -> Iterator[tuple[Path_, str]]:
    """Give the way to every node that may be changed, with the function or class that it is in."""
    if isinstance(node, ast.ClassDef | ast.FunctionDef):
        if isinstance(node, ast.ClassDef) and any(
            isinstance(b, ast.Name) and b.id == "Protocol" for b in node.bases
        ):
            return
        place = f"{place}.{node.name}" if place else node.name
    if (
        isinstance(node, ast.AnnAssign)
        and isinstance(node.target, ast.Name)
        and node.value is not None
        and not place
    ):
        place = node.target.id
    if isinstance(node, ast.Assign) and not place and isinstance(node.targets[0], ast.Name):
        place = node.targets[0].id
        if _is_alias(node.value):
            return
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Row" and node.args:
        place = f"{place}.{ast.literal_eval(node.args[0])}"
    yield path, place
    for name, value in ast.iter_fields(node):
        if name in SKIPPED:
            continue
        children = value if isinstance(value, list) else [value]
        for n, child in enumerate(children):
            if isinstance(child, ast.AST) and not _says_nothing(child):
                yield from _nodes(child, (*path, (name, n if isinstance(value, list) else None)), place)


def _is_alias(value: ast.AST) -> bool:
    """Whether this is another name for a type: `float | None`, `tuple[...]`, `Literal[...]`."""
    if isinstance(value, ast.BinOp):
        return isinstance(value.op, ast.BitOr) and all(
            isinstance(side, ast.Name | ast.Constant) or _is_alias(side) for side in (value.left, value.right)
        )
    return isinstance(value, ast.Subscript) and isinstance(value.value, ast.Name)


def _says_nothing(node: ast.AST) -> bool:
    docstring = isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    return docstring or isinstance(node, ast.Import | ast.ImportFrom)


def _at(tree: ast.AST, path: Path_) -> ast.AST:
    node: ast.AST = tree
    for name, n in path:
        value = getattr(node, name)
        node = value if n is None else value[n]
    return node


def _put(tree: ast.AST, path: Path_, changed: ast.AST) -> None:
    parent = _at(tree, path[:-1])
    name, n = path[-1]
    if n is None:
        setattr(parent, name, changed)
    else:
        getattr(parent, name)[n] = changed


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:  # noqa: PLR0912 - a table in all but name
    """Give every change of one node: what it is, and the node that takes its place."""
    text = ast.unparse(node)[:70] if not isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) else ""

    def but(**changes: object) -> ast.AST:
        other = copy.deepcopy(node)
        for name, value in changes.items():
            setattr(other, name, value)
        return other

    match node:
        case ast.Compare(ops=ops):
            for place, op in enumerate(ops):
                for other in COMPARED[type(op)]:
                    yield (
                        f"`{text}` with {other.__name__}",
                        but(ops=[*ops[:place], other(), *ops[place + 1 :]]),
                    )
        case ast.BoolOp(op=op):
            other_op = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield f"`{text}` with {type(other_op).__name__}", but(op=other_op)
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield f"`{text}` without its sign", operand
        case ast.BinOp(op=op) if type(op) in ADDED:
            yield f"`{text}` with {ADDED[type(op)].__name__}", but(op=ADDED[type(op)]())
        case ast.AugAssign(op=op, target=target, value=value) if type(op) in ADDED:
            yield f"`{text}` with {ADDED[type(op)].__name__}", but(op=ADDED[type(op)]())
            yield f"`{text}` as =", ast.Assign(targets=[target], value=value, lineno=node.lineno)
        case ast.Constant(value=bool() as value):
            yield f"{value} as {not value}", ast.Constant(not value)
        case ast.Constant(value=int() | float() as value):
            other_value = value + 1 if isinstance(value, int) or abs(value) < 0.01 else value * 1.1
            yield f"{value} as {other_value:g}", ast.Constant(other_value)
        case ast.Constant(value=str() as value):
            yield f"{value[:40]!r} as another text", ast.Constant(f"XX{value}")
        case ast.Return(value=ast.expr() as value) if not (
            isinstance(value, ast.Constant) and value.value is None
        ):
            yield f"`{text}` as None", ast.Return(ast.Constant(None))
        case ast.Continue():
            yield "continue as break", ast.Break()
        case ast.Expr(value=ast.Call()):
            yield f"without `{text}`", ast.Pass()
        case ast.Assign(value=value) if not (isinstance(value, ast.Constant) and value.value is None):
            yield f"`{text}` as None", but(value=ast.Constant(None))
        case ast.If(test=test) | ast.IfExp(test=test) if isinstance(
            test, ast.Name | ast.Attribute | ast.Call
        ):
            yield f"if not `{ast.unparse(test)[:60]}`", but(test=ast.UnaryOp(ast.Not(), test))
        case ast.Attribute(value=ast.Name(id="State"), attr=attr) if attr in STATES:
            yield f"{attr} as the next state", but(attr=STATES[(STATES.index(attr) + 1) % len(STATES)])
        case ast.Attribute(value=ast.Name(id="Cue"), attr=attr) if attr in CUES:
            yield f"{attr} as the next cue", but(attr=CUES[(CUES.index(attr) + 1) % len(CUES)])
        case ast.Call(func=ast.Name(id="Go")):
            yield f"{text} as Stay", ast.Call(ast.Name("Stay", ast.Load()), [], [])
        case ast.Call(func=ast.Name(id="Stay")):
            yield f"{text} as a refusal", ast.Name("_NO_WORK", ast.Load())
        case ast.Name(id=name) if name.startswith("_N") or name in (
            "_ENDED",
            "_RUNS_ALREADY",
            "_GOING_OUT",
            "_HELD_NOW",
        ):
            if isinstance(node.ctx, ast.Load) and name.isupper() and name not in ("_NOTHING", "_NO_WORK"):
                yield f"{name} as another refusal", ast.Name("_NO_WORK", ast.Load())
            elif isinstance(node.ctx, ast.Load) and name == "_NO_WORK":
                yield f"{name} as another refusal", ast.Name("_NOT_RUNNING", ast.Load())
