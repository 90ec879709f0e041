"""The published and derived cases of fixtures/cases/life.json, read once."""

import csv
import io
import json
from pathlib import Path

import numpy as np

CASES = json.loads((Path(__file__).parents[2] / "fixtures/cases/life.json").read_text(encoding="utf-8"))
SOURCES = {
    "P01-ball-bearings": "Lieblein & Zelen (1956), J. Res. NBS 57, 273; fit as in Lawless",
    "P02-fans": "Nelson (1982), diesel generator fans",
    "P03-power-transformer": "relife 3.0.0, data set power_transformer",
    "P04-capacitors": "Zelen (1959); Meeker & Escobar (1998), glass capacitors",
    "P05-remission": "Freireich et al. (1963), Blood 21, 699",
    "P06-delayed-entry": "lifelines 0.30.3, multicenter AIDS cohort study",
    "P07-few": "own derivation; chi-square limits of Epstein & Sobel (1953)",
    "P08-rossi-counts": "Rossi, Berk & Lenihan (1980)",
    "P09-valve-seats": "Nelson & Doganaksoy (1989); Nelson (2003)",
    "P10-growth-46": "MIL-HDBK-189, 5.3.4, example 1",
    "P11-twelve-failures": "Kaminskiy & Krivtsov, as in surpyval 0.25",
    "P12-two-planes": "Proschan (1963), Technometrics 5, 375, planes 2 and 8",
    "P13-planes": "Proschan (1963), Technometrics 5, 375, fourteen planes",
    "P14-no-spread": "own derivation: groups closer together than chance",
    "P15-age-replacement": "Barlow & Hunter (1960), Operations Research 8, 90",
    "P16-no-finite-maximum": "own derivation: all enter late and fail soon after",
    "L02-automotive": "reliability 0.9.0, data set automotive",
    "L04-waltons-groups": "lifelines 0.30.3, data set waltons",
    "L08-huge-and-tiny": "the bearings of P01 in units of 1e-9 and 1e9",
    "M01-repairs-5-systems": "Nelson (1988), as in reliability 0.9.0, data set MCF_1",
    "T01-improving-system": "Ascher & Feingold (1984), Repairable Systems Reliability",
    "T02-worsening-system": "Ascher & Feingold (1984), Repairable Systems Reliability",
    "R03": "Przyborowski & Wilenski (1940), own arithmetic",
    "A02-never": "Barlow & Hunter (1960)",
    "S01-ten-pumps": "Gaver & O'Muircheartaigh (1987), Technometrics 29, 1",
    "B01-renewal-function": "Xie (1989), own arithmetic",
    "B02-taken-over": "Cox (1962), Renewal Theory, own arithmetic",
}


def cases(kind):
    """The cases of one kind, each named by its id and source."""
    import pytest

    return [pytest.param(case, id=f"{case['id']} ({SOURCES[case['id']]})") for case in CASES if case["kind"] == kind]


def columns(case):
    """Group names, group, entry, exit, failed and count of a case given as CSV."""
    rows = list(csv.DictReader(io.StringIO(case["data"])))
    names = list(dict.fromkeys(row.get("group", "all") for row in rows))
    group = np.array([names.index(row.get("group", "all")) for row in rows])
    entry, exit, failed, count = (
        np.array([float(row.get(name, default)) for row in rows])
        for name, default in (("entry", 0), ("exit", 0), ("failed", 0), ("count", 1))
    )
    return names, group, entry, exit, failed == 1, count


def close(got, wanted, tolerance):
    """Equal within a relative tolerance; None stands for nan."""
    wanted = np.atleast_1d(np.asarray(wanted, float))
    np.testing.assert_allclose(np.atleast_1d(np.asarray(got, float)), wanted, rtol=tolerance, atol=0)
