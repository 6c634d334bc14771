"""Sourced facts as TOML, and the loader that refuses a figure without its source."""

from carwright.tables.load import Tables, shipped
from carwright.tables.model import Cell, Clause, Column, Limit, RuleSet, Source, Table
from carwright.tables.rules import load_rules
from carwright.tables.vocabulary import vocabulary

__all__ = [
    "Cell",
    "Clause",
    "Column",
    "Limit",
    "RuleSet",
    "Source",
    "Table",
    "Tables",
    "load_rules",
    "shipped",
    "vocabulary",
]
