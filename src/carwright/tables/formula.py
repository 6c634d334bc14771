"""Arithmetic written in a table: ``initial + per_inch * body_length``.

Only numbers, names, + - * / and parentheses are understood; the text is parsed once, never evaluated as code.
"""

from __future__ import annotations

import ast
import operator
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from carwright.errors import TableError

_OPERATORS: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Formula:
    """A parsed expression.

    Attributes
    ----------
    expression : str
        As written.
    names : frozenset[str]
        Names it needs.
    given : mapping
        Unit each geometry value is put in.
    unit : str
        Unit of the result.
    """

    expression: str
    names: frozenset[str]
    given: Mapping[str, str]
    unit: str

    def __call__(self, values: Mapping[str, float]) -> float:
        """Evaluate for the named values [in the units of ``given``]."""
        return _value(_tree(self.expression), values)


def parse_formula(expression: str, *, given: Mapping[str, str], unit: str, place: str) -> Formula:
    """Parse an expression.

    Parameters
    ----------
    expression : str
        At most 200 characters.
    given : mapping
        Geometry used and the unit it is put in.
    unit : str
        Unit of the result.
    place : str
        Where it stands, for the error.

    Raises
    ------
    TableError
        "<place>: only numbers, names, + - * / and parentheses may stand in a formula, got ..."
    """
    if len(expression) > _LONGEST:
        raise TableError(place, f"a formula may have {_LONGEST} characters, got {len(expression)}")
    try:
        tree = _tree(expression)
        names = frozenset(_names(tree))
    except (SyntaxError, ValueError) as error:
        raise TableError(
            place, f"only numbers, names, + - * / and parentheses may stand in a formula, got {expression!r}"
        ) from error
    return Formula(expression, names, given, unit)


_TREES: dict[str, ast.expr] = {}


def _tree(expression: str) -> ast.expr:
    tree = _TREES.get(expression)
    if tree is None:
        tree = _TREES[expression] = ast.parse(expression, mode="eval").body
    return tree


def _names(node: ast.expr) -> list[str]:
    match node:
        case ast.Name(id=name):
            return [name]
        case ast.Constant(value=int() | float()):
            return []
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return _names(operand)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _names(left) + _names(right)
    raise ValueError(ast.dump(node))


def _value(node: ast.expr, values: Mapping[str, float]) -> float:
    match node:
        case ast.Name(id=name):
            return values[name]
        case ast.UnaryOp(operand=operand):
            return -_value(operand, values)
        case ast.BinOp(left=left, op=op, right=right):
            return _OPERATORS[type(op)](_value(left, values), _value(right, values))
        case ast.Constant(value=int() | float() as number):
            return float(number)
    raise ValueError(ast.dump(node))
