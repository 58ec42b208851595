"""Small changes of meaning to Python source, one at a time: what a test suite ought to notice.

Makes mutants of a source text and nothing else; running tests against them is `bench_mutants.py`. Changes
are the usual ones of mutation testing: comparisons, arithmetic, logic, constants, returns, left-out calls.
Decorators are left alone: that a value is frozen changes nothing that a sound program does.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass

COMPARISONS: dict[type[ast.cmpop], tuple[str, str]] = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: ("not in", "in"),
}
ARITHMETIC: dict[type[ast.operator], tuple[str, str]] = {
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.FloorDiv: ("//", "*"),
    ast.Mod: ("%", "+"),
    ast.BitAnd: ("&", "|"),
    ast.BitOr: ("|", "&"),
    ast.LShift: ("<<", ">>"),
    ast.RShift: (">>", "<<"),
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One change: where, the text there, and what stands in its place."""

    path: str
    line: int
    start: int
    end: int
    was: str
    becomes: str

    @property
    def name(self) -> str:
        """Give a short name for lists."""
        return f"{self.path}:{self.line}: {_short(self.was)} -> {_short(self.becomes)}"

    def apply(self, source: bytes) -> bytes:
        """Return the source with this change."""
        return source[: self.start] + self.becomes.encode() + source[self.end :]


def mutants_of(path: str, source: bytes) -> list[Mutant]:
    """Give every mutant of a module, in order of place; texts, annotations and docstrings are left alone."""
    tree = ast.parse(source)
    maker = _Maker(path, source)
    for node in tree.body:
        maker.visit(node)
    unique = {(one.start, one.end, one.becomes): one for one in maker.made}
    return sorted(unique.values(), key=lambda one: (one.start, one.becomes))


class _Maker(ast.NodeVisitor):
    """Walk a tree and note what could be changed."""

    def __init__(self, path: str, source: bytes) -> None:
        self.path = path
        self.source = source
        self.made: list[Mutant] = []
        self._line_starts = [0]
        for line in source.splitlines(keepends=True):
            self._line_starts.append(self._line_starts[-1] + len(line))

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for inner in (*node.args.defaults, *node.args.kw_defaults, *node.body):
            if inner is not None and not _is_text(inner):
                self.visit(inner)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for inner in node.body:
            if not _is_text(inner):
                self.visit(inner)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_If(self, node: ast.If) -> None:
        if isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            return
        self.generic_visit(node)

    def visit_Compare(self, node: ast.Compare) -> None:
        left = node.left
        for operator, right in zip(node.ops, node.comparators, strict=True):
            was, becomes = COMPARISONS[type(operator)]
            self._between(left, right, was, becomes)
            left = right
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        pair = ARITHMETIC.get(type(node.op))
        texts = any(
            isinstance(side, ast.JoinedStr) or _is_text_constant(side) for side in (node.left, node.right)
        )
        if pair is not None and not texts:
            self._between(node.left, node.right, *pair)
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        pair = ARITHMETIC.get(type(node.op))
        if pair is not None:
            self._between(node.target, node.value, f"{pair[0]}=", f"{pair[1]}=")
        self.visit(node.value)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        was, becomes = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        for left, right in zip(node.values, node.values[1:], strict=False):
            self._between(left, right, was, becomes)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not):
            self._replace(node, self._text(node.operand))
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self._replace(node, str(not value))
        elif isinstance(value, int):
            self._replace(node, str(value + 1))
        elif isinstance(value, float):
            self._replace(node, repr(value * 1.5 + 0.1))

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Leave texts for people alone."""

    def visit_Return(self, node: ast.Return) -> None:
        if node.value is not None and not isinstance(node.value, ast.Constant):
            self._replace(node.value, "None")
        self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Call):
            self._replace(node, "pass")
        self.generic_visit(node)

    def _between(self, left: ast.expr, right: ast.expr, was: str, becomes: str) -> None:
        start, end = (
            self._offset(left.end_lineno, left.end_col_offset),
            self._offset(right.lineno, right.col_offset),
        )
        place = self.source[start:end].find(was.encode())
        if place >= 0:
            self._add(left.end_lineno or 0, start + place, start + place + len(was), becomes)

    def _replace(self, node: ast.expr | ast.stmt, becomes: str) -> None:
        start = self._offset(node.lineno, node.col_offset)
        self._add(node.lineno, start, self._offset(node.end_lineno, node.end_col_offset), becomes)

    def _add(self, line: int, start: int, end: int, becomes: str) -> None:
        self.made.append(Mutant(self.path, line, start, end, self.source[start:end].decode(), becomes))

    def _text(self, node: ast.expr) -> str:
        start = self._offset(node.lineno, node.col_offset)
        return f"({self.source[start : self._offset(node.end_lineno, node.end_col_offset)].decode()})"

    def _offset(self, line: int | None, column: int | None) -> int:
        return self._line_starts[(line or 1) - 1] + (column or 0)


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and _is_text_constant(node.value)


def _is_text_constant(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _short(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= 40 else f"{flat[:37]}..."
