"""Small faults that a module may have: another comparison, number, key or sign, or a step left out."""

from __future__ import annotations

import ast
import copy
from importlib.abc import MetaPathFinder
from importlib.machinery import SourceFileLoader
from importlib.util import spec_from_file_location
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

#: What each operator is changed into: for an order both its edge and its contrary.
OTHER = {
    ast.Lt: (ast.LtE, ast.GtE), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.LtE), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,), ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,), ast.Add: (ast.Sub,), ast.Sub: (ast.Add,), ast.Mult: (ast.Div,), ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Div,), ast.Mod: (ast.FloorDiv,), ast.Pow: (ast.Mult,), ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,), ast.And: (ast.Or,), ast.Or: (ast.And,),
}  # fmt: skip


def mutants_of(node: ast.AST) -> Iterator[ast.AST]:
    """Yield what may stand in place of a piece of code."""
    yield from _other_operators(node)
    yield from _other_values(node)
    yield from _other_steps(node)


def _other_operators(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(left, ops, right):
            for k, op in enumerate(ops):
                for other in OTHER[type(op)]:
                    yield ast.Compare(left, [*ops[:k], other(), *ops[k + 1 :]], right)
        case ast.BinOp(left, op, right) if type(op) in OTHER:
            yield ast.BinOp(left, OTHER[type(op)][0](), right)
        case ast.AugAssign(target, op, value) if type(op) in OTHER:
            yield ast.AugAssign(target, OTHER[type(op)][0](), value)
        case ast.BoolOp(op, values):
            yield ast.BoolOp(OTHER[type(op)][0](), values)
        case ast.UnaryOp(operand=operand):
            yield operand


def _other_values(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Constant(bool() as value):
            yield ast.Constant(not value)
        case ast.Constant(int() | float() as value):
            yield from (ast.Constant(value + 1), ast.Constant(value - 1))
        case ast.Constant(str() as value) if value.isidentifier():
            yield ast.Constant(f"{value}_")


def _other_steps(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.If(ast.Name() | ast.Call() | ast.Attribute() as test, body, orelse):
            yield ast.If(ast.UnaryOp(ast.Not(), test), body, orelse)
        case ast.IfExp(ast.Name() | ast.Call() | ast.Attribute() as test, body, orelse):
            yield ast.IfExp(test, orelse, body)
        case ast.Return(value) if value is not None and not isinstance(value, ast.Constant):
            yield ast.Return(ast.Constant(None))
        case ast.Continue() | ast.Break():
            yield ast.Break() if isinstance(node, ast.Continue) else ast.Continue()
        case ast.Raise() | ast.Expr(value=ast.Call()):
            yield ast.Pass()


class Mutate(ast.NodeTransformer):
    """Put the mutant of one number in place; with -1 only count them.

    Left alone is what does no work: words for people, types, decorators, and ``strict=``, which only guards.
    """

    def __init__(self, number: int) -> None:
        self.number, self.seen, self.said = number, 0, ""

    def visit(self, node: ast.AST) -> ast.AST:
        """Replace the piece whose turn it is, and go into its parts."""
        for_types = isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for_types |= isinstance(node, ast.Subscript) and ast.unparse(node.value) == "Literal"
        if for_types or (isinstance(node, ast.keyword) and node.arg == "strict"):
            return node
        for mutant in mutants_of(node):
            if self.seen == self.number:
                self.said = f"line {node.lineno}: {ast.unparse(node)[:160]}  ->  {ast.unparse(mutant)[:160]}"
                node = ast.copy_location(copy.deepcopy(mutant), node)
            self.seen += 1
        if isinstance(node, ast.JoinedStr | ast.Raise):
            return node
        for name, value in ast.iter_fields(node):
            if name in {"annotation", "returns", "decorator_list"}:
                continue
            if isinstance(value, list):
                setattr(node, name, [self.visit(part) if isinstance(part, ast.AST) else part for part in value])
            elif isinstance(value, ast.AST):
                setattr(node, name, self.visit(value))
        return node


class Instead(MetaPathFinder, SourceFileLoader):
    """Load one module from a changed tree, and no other."""

    def __init__(self, name: str, path: Path, tree: ast.AST) -> None:
        super().__init__(name, str(path))
        self.code = compile(ast.fix_missing_locations(tree), str(path), "exec")

    def find_spec(self, name, path=None, target=None):
        """Return where the module stands; None for every other one."""
        return spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def get_code(self, fullname):
        """Return the changed code in place of the file's."""
        return self.code
