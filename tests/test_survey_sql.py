"""The declarations as SQL: a database's figures are NumPy's."""

from __future__ import annotations

import duckdb
import numpy as np
import pyarrow as pa
import pytest
import sympy

from kit.protocol.catalogue import catalogue
from kit.quantities.errors import DataFileError
from kit.survey.program import compile_program
from kit.survey.sql import identifier, select_traits, sql_of
from kit.traits.declarations import traits

DOGS = 500
CLOSE = 1e-9


def dogs() -> dict[str, np.ndarray]:  # type: ignore[type-arg]
    """Return invented dogs with every measurement, some missing, some that cannot be."""
    generator = np.random.default_rng(41)
    height = generator.normal(40, 2, DOGS)
    columns = {}
    for key, one in catalogue().measurements.items():
        middle = (one.low + one.high) / 2
        scale = height if one.kind.value == "length" and key != "height_at_withers" else 1.0
        typical = 40.0 if key == "height_at_withers" else middle
        values = typical * scale * (1 + generator.normal(0, 0.08, DOGS))
        values[generator.random(DOGS) < 0.03] = np.nan
        columns[key] = values
    columns["head_length"][0] = 0.0  # a division by zero
    columns["blade_top_to_elbow"][1] = 500.0  # no such triangle
    return columns


def compare(rows: dict[str, list[float | None]], columns: dict[str, np.ndarray]) -> int:  # type: ignore[type-arg]
    """Hold what a database gave against NumPy; return how many figures agreed."""
    program = compile_program(columns, catalogue())
    found = program.run(columns)
    agreed = 0
    for key, column in found.items():
        for name, ours in ((key, column.values), (f"{key}_u", column.uncertainties)):
            theirs = np.array([np.nan if v is None else v for v in rows[name]], dtype=float)
            ours = np.where(np.isfinite(ours), ours, np.nan)
            np.testing.assert_allclose(theirs, ours, rtol=CLOSE, atol=CLOSE, err_msg=name)
            agreed += int(np.isfinite(ours).sum())
    return agreed


def test_duckdb_gives_the_figures_of_numpy() -> None:
    columns = dogs()
    program = compile_program(columns, catalogue())
    assert len(program.routes) == len(traits())
    table = {"dog": pa.array(range(DOGS))}
    table |= {key: pa.array(v, from_pandas=True) for key, v in columns.items()}
    with duckdb.connect() as connection:
        connection.register("survey", pa.table(table))
        query = select_traits(program, "survey") + " ORDER BY dog"
        result = connection.sql(query).to_arrow_table()
    assert compare(result.to_pydict(), columns) > 40_000


def test_a_name_that_could_be_a_command_is_refused() -> None:
    with pytest.raises(DataFileError, match="no name for a column"):
        identifier('dogs"; drop table dogs; --')


def test_what_no_database_has_is_refused() -> None:
    with pytest.raises(DataFileError, match="no such function"):
        sql_of(sympy.gamma(sympy.Symbol("weight")), catalogue(), ["weight"])
