"""Rings at a place and of a typed list: the exact best ring of what stands there, and what is wrong with a row."""

from __future__ import annotations

import csv
import pickle
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
import tiny_ranch as tiny

from boscage.errors import InputError
from boscage.model.desk_answers import RigAnswer, RigListRequest, RigRequest
from boscage.model.rig import NoRing, Ring, Stem
from boscage.pipeline.desk_rig import rig_list
from boscage.pipeline.desk_session import Session
from boscage.pipeline.rig import net_profile
from boscage.readers.stem_list import read_stem_list
from boscage.rigging.plan_ring import plan_rig
from boscage.rigging.ring import fit_ring

ROOT = Path(__file__).resolve().parents[3]
STEMS = ROOT / "sample_data" / "stems_creek.csv"
WOOD = tiny.place(tiny.Variant(), 1900.0, 1500.0)


def ring_of(answer: RigAnswer) -> Ring:
    assert isinstance(answer.ring, Ring), answer.ring
    return answer.ring


def held(ring: Ring) -> set[str]:
    return {c.stem.stem for c in ring.contacts if c.stem is not None}


def test_the_ring_at_a_place_is_the_best_of_the_trees_there(session: Session) -> None:
    answer = session.rig(RigRequest(at=WOOD))
    options = session.ranch.plan.ring_options()
    stems = [s.stem for s in answer.stems]
    assert len(stems) >= 20 and answer.frame == "crs" and not answer.mapped
    assert answer.source == "stem list stems.csv"
    expected = fit_ring(stems, options)
    assert isinstance(expected, Ring)
    assert ring_of(answer).score == expected.score
    assert held(ring_of(answer)) == held(expected)
    assert {s.state for s in answer.stems} <= {"usable", "thin", "no tree"}
    assert all(
        (s.state == "thin") == (s.stem.kind == "tree" and s.stem.dbh_m < options.min_dbh_m) for s in answer.stems
    )


@pytest.mark.parametrize("how", ["removed", "bad"])
def test_without_a_tree_the_next_ring_is_exact_too(session: Session, how: str) -> None:
    first = session.rig(RigRequest(at=WOOD))
    gone = sorted(held(ring_of(first)))[0]
    answer = session.rig(RigRequest(at=WOOD, **{how: (gone,)}))
    left = [s.stem for s in first.stems if s.stem.stem != gone]
    expected = fit_ring(left, session.ranch.plan.ring_options())
    assert isinstance(expected, Ring)
    assert ring_of(answer).score == pytest.approx(expected.score, abs=1e-9)
    assert gone not in held(ring_of(answer))
    assert ring_of(answer).score <= ring_of(first).score
    shown = {s.stem.stem: s for s in answer.stems}[gone]
    assert shown.state == how
    assert (shown.stem.kind == "dead") == (how == "bad")
    assert held(ring_of(session.rig(RigRequest(at=WOOD)))) == held(ring_of(first)), "nothing is remembered"


def test_a_bad_tree_still_stands_in_the_way_and_a_removed_one_does_not(session: Session) -> None:
    trees = {"posts": False}
    first = ring_of(session.rig(RigRequest(at=WOOD)))
    gone = first.contacts[0].stem
    assert gone is not None
    bad = session.rig(RigRequest(at=WOOD, bad=(gone.stem,), options=trees, whole=True))
    taken = session.rig(RigRequest(at=WOOD, removed=(gone.stem,), options=trees, whole=True))
    assert bad.plan is not None and taken.plan is not None
    told = str(bad.plan.inside) + str(bad.plan.near_wall) + str(bad.plan.nearby)
    other = str(taken.plan.inside) + str(taken.plan.near_wall) + str(taken.plan.nearby)
    assert f"stem='{gone.stem}'" in told or gone.stem in told
    assert f"stem='{gone.stem}'" not in other


def test_added_trees_count_and_replace_their_namesakes(session: Session) -> None:
    first = session.rig(RigRequest(at=WOOD))
    contact = ring_of(first).contacts[0].stem
    assert contact is not None
    thin = replace(contact, dbh_m=0.05)
    answer = session.rig(RigRequest(at=WOOD, extra=(thin, Stem(stem="new", x_m=WOOD[0], y_m=WOOD[1], dbh_m=0.4))))
    names = [s.stem.stem for s in answer.stems]
    assert sorted(names) == sorted({*(s.stem.stem for s in first.stems), "new"})
    assert {s.stem.stem: s.state for s in answer.stems}["new"] == "added"
    expected = fit_ring([s.stem for s in answer.stems], session.ranch.plan.ring_options())
    assert ring_of(answer).score == expected.score  # type: ignore[union-attr]


def test_the_whole_rig_is_that_of_the_command(session: Session) -> None:
    answer = session.rig(RigRequest(at=WOOD, options={"posts": False}, whole=True))
    assert answer.plan is not None
    assert answer.plan.gear and answer.plan.stakes and answer.plan.contacts
    assert answer.plan.declination_deg == -0.6 and answer.plan.declination_stated
    assert repr(pickle.loads(pickle.dumps(answer))) == repr(answer), "what is not known is equal to nothing"
    assert session.rig(RigRequest(at=WOOD)).plan is None, "while a tree is dragged only the ring is asked for"


def test_options_of_the_ring_are_taken_and_held_to_their_range(session: Session) -> None:
    plain = ring_of(session.rig(RigRequest(at=WOOD)))
    other = session.rig(RigRequest(at=WOOD, options={"perimeter_m": 20.0, "contacts": 6}))
    assert (other.ring.options.perimeter_m, other.ring.options.contacts) == (20.0, 6)
    assert isinstance(other.ring, NoRing) or (18.0 - 1e-9 <= other.ring.perimeter_m <= 20.0 + 1e-9)
    assert plain.options.perimeter_m != 20.0
    with pytest.raises(InputError, match="there is no option contact"):
        session.rig(RigRequest(at=WOOD, options={"contact": 3}))
    with pytest.raises(InputError, match="perimeter_m"):
        session.rig(RigRequest(at=WOOD, options={"perimeter_m": 0.0}))


def test_a_place_without_trees_says_so(session: Session) -> None:
    answer = session.rig(RigRequest(at=tiny.place(tiny.Variant(), *tiny.OPEN)))
    assert isinstance(answer.ring, NoRing)
    assert answer.ring.reason and answer.ring.nearest_miss
    with pytest.raises(InputError, match="no place"):
        session.rig(RigRequest())
    with pytest.raises(InputError, match="there is no site XX-99"):
        session.rig(RigRequest(site="XX-99"))
    site = session.rank().sites[0]
    assert session.rig(RigRequest(site=site.site)).name == site.site


def typed() -> RigListRequest:
    with STEMS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    return RigListRequest(columns=tuple(rows[0]), rows=tuple(map(tuple, rows[1:])), declination_deg=-0.6)


def test_a_list_typed_whole_is_the_list_read(session: Session) -> None:
    answer = session.rig_list(typed())
    listed = read_stem_list(STEMS, declination_deg=-0.6)
    expected = fit_ring(listed.stems, session.ranch.plan.ring_options())
    assert isinstance(expected, Ring)
    assert answer.faults == ()
    assert [s.stem for s in answer.stems] == list(listed.stems)
    assert ring_of(answer).contacts == expected.contacts
    whole = session.rig_list(replace(typed(), whole=True))
    plan = session.ranch.plan
    made = plan_rig(
        "typed list", expected, listed, net_profile(plan.net), plan.rigging, stated=True, source="typed list",
        date=plan.date,
    )  # fmt: skip
    assert whole.plan == made


def test_row_by_row_the_ring_forms(session: Session) -> None:
    full = replace(typed(), options={"reach_m": 0.0})  # corners at the bark: the global optimum
    best = ring_of(session.rig_list(full)).score
    scores = []
    for count in range(0, len(full.rows) + 1, 6):
        answer = session.rig_list(replace(full, rows=full.rows[:count]))
        assert len(answer.stems) == count
        assert answer.faults == ()
        scores.append(answer.ring.score if isinstance(answer.ring, Ring) else 0.0)
    assert all(b >= a - 1e-9 for a, b in pairwise(scores)), "more trees never make the best ring worse"
    assert scores[0] == 0.0 < scores[-1] <= best + 1e-9


def test_wrong_rows_are_told_and_the_ring_is_that_of_the_others(session: Session) -> None:
    full = typed()
    rows = [list(r) for r in full.rows]
    bearing = full.columns.index("bearing_deg")
    thick = full.columns.index("dbh_in" if "dbh_in" in full.columns else "dbh_cm")
    name = full.columns.index("stem")
    rows[2][bearing] = "north"
    rows[5][thick] = ""
    rows[7][name] = rows[6][name]
    rows.insert(4, [""] * len(full.columns))
    answer = session.rig_list(replace(full, rows=tuple(map(tuple, rows))))
    assert [(f.row, f.field) for f in answer.faults] == [(3, "bearing_deg"), (7, full.columns[thick]), (9, "stem")]
    assert "north" in answer.faults[0].sentence and "0 to 360" in answer.faults[0].sentence
    assert answer.faults[0].sentence.startswith("typed list, layer stems, row 3, field bearing_deg: ")
    right = [r for n, r in enumerate(full.rows) if n not in (2, 5, 7)]
    other = session.rig_list(replace(full, rows=tuple(right)))
    assert ring_of(answer).score == ring_of(other).score
    assert len(answer.stems) == len(full.rows) - 3


def test_a_fault_of_the_list_as_a_whole_leaves_no_ring(session: Session) -> None:
    full = typed()
    columns = tuple("dbh" if c.startswith("dbh") else c for c in full.columns)
    answer = session.rig_list(replace(full, columns=columns))
    assert [f.row for f in answer.faults] == [0]
    assert "dbh_cm or dbh_in" in answer.faults[0].sentence
    assert answer.stems == () and isinstance(answer.ring, NoRing)


def test_decimal_commas_and_odd_blanks_are_read() -> None:
    rows = (("1", "10,5", " 30 ", "2,5"), ("2", "100", "28", "2\t.5"), ("3", "2e2", "31", "2.5"))
    answer = rig_list(RigListRequest(columns=("stem", "bearing_deg", "dbh_cm", "distance_m"), rows=rows))
    assert [f.row for f in answer.faults] == [2]
    assert [s.stem.stem for s in answer.stems] == ["1", "3"]
    assert answer.stems[0].stem.y_m == pytest.approx(2.458, abs=1e-3)


def test_without_a_plan_a_list_can_be_typed_too() -> None:
    answer = rig_list(replace(typed(), options={"perimeter_m": 18.288}))
    assert isinstance(answer.ring, Ring)
    assert answer.frame == "pivot"
    gone = sorted(held(answer.ring))[0]
    other = rig_list(replace(typed(), removed=(gone,)))
    assert gone not in held(ring_of(other))
