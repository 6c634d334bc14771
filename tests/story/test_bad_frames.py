"""Slips in profiles, works and priors through the command line: every one named, exit status 2, nothing on stdout."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HEAD = """\
format = "carwright-sheet/1"
[car]
title = "Flat car"
scale = "HO"
[car.geometry]
body_length = "190 mm"
body_width = "31.5 mm"
truck_centers = "132 mm"
axles_per_truck = 2
"""
BACKWARDS = '[[car.geometry.deck]]\nfrom = "50 mm"\nto = "-90 mm"\nheight = "5 mm"\n'
SHORT = '[[car.geometry.deck]]\nfrom = "-90 mm"\nto = "50 mm"\nheight = "5 mm"\n'
PROFILE = """\
[[entry]]
kind = "profile"
of = "deck"
datum = "plate"
side = "left"
stations = ["-80 mm", "0 mm", "80 mm"]
heights = ["5.00 mm", "5.01 mm", "5.02 mm"]
"""
GAPS = PROFILE.replace('"plate"', '"straightedge"').replace(
    'heights = ["5.00 mm", "5.01 mm", "5.02 mm"]', 'gaps = ["0 mm", "-0.1 mm", "0 mm"]'
)
WORK = '[[entry]]\nkind = "work"\nremedy = "{}"\n'
TURNED = (
    '[[entry]]\nkind = "reading"\nwhat = "wheel.diameter"\nat = "1"\nvalues = ["9.64 mm"]\nwith = "calliper"\n'
    "turned = true\n"
)
SPREADLESS = '[[prior]]\nwhat = "truck.ride"\nu = "0 mm"\nsource = "maker"\n'
SLIPS = {
    "heights under a straightedge": (
        PROFILE.replace('"plate"', '"straightedge"'),
        "gaps are read under a straightedge",
    ),
    "gap below zero": (GAPS, "a gap is never below zero, got -0.1 mm"),
    "station twice": (PROFILE.replace('"0 mm"', '"80 mm"'), "a station stands twice"),
    "beyond the body": (PROFILE.replace('"80 mm"', '"120 mm"'), "120.00 mm from mid-car lies beyond the body"),
    "deck backwards": (BACKWARDS, "must run from the lower to the higher station, got '50 mm' to '-90 mm'"),
    "on no deck": (SHORT + PROFILE, "station 80 mm lies on no [[car.geometry.deck]], and no nominal is given"),
    "negative shim": (WORK.format("box-shim") + 'at = "A"\namount = "-0.1 mm"\n', "box-shim never undoes itself"),
    "amount of what takes none": (WORK.format("free-bearings") + 'amount = "1 mm"\n', "free-bearings takes no amount"),
    "length for a mass": (WORK.format("ballast") + 'amount = "3 mm"\n', "cannot read '3 mm': expected a mass"),
    "face": (WORK.format("box-raise") + 'at = "A"\nface = "top"\n', "only a shank has a face that is dressed"),
    "turned wheel": (TURNED, "only a reading at an end of the car has the car turned end for end"),
    "no spread": (SPREADLESS, "u must be above zero, got '0 mm'"),
}


def run(path: Path, text: str, *command: str) -> subprocess.CompletedProcess[str]:
    path.write_text(text, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-m", "carwright", *(command or ("inspect",)), str(path)],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("name", SLIPS)
def test_each_slip_ends_with_its_sentence(name: str, tmp_path: Path) -> None:
    body, sentence = SLIPS[name]
    sheet = tmp_path / "car.toml"
    done = run(sheet, HEAD + body)
    assert (done.returncode, done.stdout) == (2, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith(f"{sheet}:")
    assert sentence in line


def test_all_slips_of_one_sheet_are_told_at_once(tmp_path: Path) -> None:
    without = [body for name, (body, _) in SLIPS.items() if name != "on no deck"]
    backwards = without.pop(list(SLIPS).index("deck backwards"))
    sheet = tmp_path / "car.toml"
    done = run(sheet, HEAD + backwards + "".join(without))
    assert (done.returncode, done.stdout) == (2, "")
    for name, (_, sentence) in SLIPS.items():
        if name != "on no deck":
            assert done.stderr.count(sentence) == 1, name
    lines = [int(each.removeprefix(f"{sheet}:").partition(":")[0]) for each in done.stderr.splitlines()]
    assert lines == sorted(lines)
    assert len(lines) == len(without) + 1


@pytest.mark.parametrize("command", [("report", "--out", "{folder}/page"), ("plan",), ("ballast",)])
def test_other_commands_refuse_the_same_sheet(command: tuple[str, ...], tmp_path: Path) -> None:
    filled = [each.format(folder=tmp_path) for each in command]
    done = run(tmp_path / "car.toml", HEAD + SLIPS["gap below zero"][0], *filled)
    assert (done.returncode, done.stdout) == (2, "")
    assert "a gap is never below zero" in done.stderr
    assert not (tmp_path / "page").exists()


def test_a_washer_taken_out_again_is_no_slip(tmp_path: Path) -> None:
    body = (
        WORK.format("washer")
        + 'at = "A"\namount = "0.3 mm"\n'
        + WORK.format("washer")
        + 'at = "A"\namount = "-0.3 mm"\n'
    )
    done = run(tmp_path / "car.toml", HEAD + PROFILE + body)
    assert (done.returncode, done.stderr) == (0, "")
    assert "after washer -0.3 mm at A" in done.stdout


@pytest.mark.parametrize("angle", ["0 deg", "95 deg"])
def test_an_impossible_tipping_angle_ends_in_a_sentence(angle: str, tmp_path: Path) -> None:
    entry = '[[entry]]\nkind = "reading"\nwhat = "{}"\nat = "{}"\nvalues = ["{}"]\n'
    body = entry.format("tip.angle", "L", angle) + entry.format("tip.angle", "R", "20 deg")
    body += entry.format("wheel.back_to_back", "1", "14.45 mm") + entry.format("wheel.flange_thickness", "1", "0.7 mm")
    done = run(tmp_path / "car.toml", HEAD + body)
    assert "Traceback" not in done.stderr
    assert done.returncode == 2
