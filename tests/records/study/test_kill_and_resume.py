"""What a study keeps when it is killed, and what it refuses to mix: an undisturbed study is the reference."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import zlib

import numpy as np
import pytest
from places import ROOT
from study_scenes import BARE, SCAN, SMALL_SCAN, Here, differing_sets, series, study_case

from thermsim.case.file.reader import case_from_text
from thermsim.errors import InputError
from thermsim.records.study.journal import Journal
from thermsim.records.study.running import run_study

SPREAD = """
[study]
kind = "spread"
samples = 8
seed = 3
vary = [{ key = "product.initial_C", distribution = "uniform", low = 20, high = 40 }, { key = "process.film_W_m2K", distribution = "uniform", low = 200, high = 400 }]
"""  # noqa: E501


def run(study=SMALL_SCAN, text=BARE, compute=series, **options):
    return run_study(study_case(study, text), executor=Here(), compute=compute, **options)


def counting(compute=series):
    made = []

    def counted(task):
        made.append(task.index)
        return compute(task)

    return made, counted


def same(one, other):
    return one.failures == other.failures and all(
        np.array_equal(one.figures[name], other.figures[name], equal_nan=True) for name in one.figures
    )


@pytest.mark.long
def test_a_study_killed_ten_times_ends_as_an_undisturbed_one(tmp_path):
    done = subprocess.run(
        [sys.executable, ROOT / "tests" / "scenes" / "killed_ten_times.py", tmp_path],
        capture_output=True,
        text=True,
        check=True,
    )
    told = json.loads(done.stdout)
    assert told["ends"] == [9] * 10 + [0]  # how processes end that get signal 9, and the one that came through
    assert told["found"] == sorted(told["found"])
    assert 0 < told["found"][0] < told["found"][-1] < 200
    journal = (tmp_path / "killed" / "study.journal").read_text().splitlines()
    runs = [json.loads(line.split(" ", 1)[1])["run"] for line in journal[1:]]
    assert sorted(runs) == list(range(200))  # none was repeated
    assert differing_sets(tmp_path / "undisturbed" / "study.h5", tmp_path / "killed" / "study.h5") == []
    assert (tmp_path / "undisturbed" / "study.h5").read_bytes() == (tmp_path / "killed" / "study.h5").read_bytes()


def test_finished_runs_are_on_the_disk_before_the_next_is_told(tmp_path):
    seen = []

    def progress(done, runs):
        seen.append((done, (tmp_path / "j").read_bytes().count(b"\n") - 1, runs))

    run(journal=tmp_path / "j", progress=progress)
    assert seen[0] == (0, 0, 12)
    assert seen[-1] == (12, 12, 12)
    assert [done for done, *_ in seen] == [lines for _, lines, _ in seen]


def test_a_finished_study_is_told_again_without_a_run(tmp_path):
    first = run(journal=tmp_path / "j")
    made, counted = counting()
    assert same(run(journal=tmp_path / "j", compute=counted), first)
    assert made == []


@pytest.mark.parametrize("left", [1, 20, -1])
def test_a_last_record_that_was_cut_is_made_again(tmp_path, left):
    first = run(journal=tmp_path / "j")
    head, last = (tmp_path / "j").read_bytes()[:-1].rsplit(b"\n", 1)
    (tmp_path / "j").write_bytes(head + b"\n" + last[:left])
    made, counted = counting()
    assert same(run(journal=tmp_path / "j", compute=counted), first)
    assert made == [json.loads(last.split(b" ", 1)[1])["run"]]
    # and what was left of it does not spoil what follows
    made.clear()
    assert same(run(journal=tmp_path / "j", compute=counted), first)
    assert made == []


@pytest.mark.parametrize("damage", [b"\x00\xff\xfe garbage", b"", b"not hex {}", b"00000000 {}", b"zz"])
def test_a_damaged_record_is_made_again_and_the_others_are_not(tmp_path, damage):
    first = run(journal=tmp_path / "j")
    lines = (tmp_path / "j").read_bytes().split(b"\n")
    lost = json.loads(lines[5].split(b" ", 1)[1])["run"]
    lines[5] = damage
    (tmp_path / "j").write_bytes(b"\n".join(lines))
    made, counted = counting()
    assert same(run(journal=tmp_path / "j", compute=counted), first)
    assert made == [lost]


def test_one_flipped_digit_is_found(tmp_path):
    first = run(journal=tmp_path / "j")
    text = (tmp_path / "j").read_bytes()
    place = re.search(rb'"least_lethality": (\d)', text).start(1)
    (tmp_path / "j").write_bytes(
        text[:place] + (b"8" if text[place : place + 1] != b"8" else b"7") + text[place + 1 :]
    )
    made, counted = counting()
    assert same(run(journal=tmp_path / "j", compute=counted), first)
    assert len(made) == 1


@pytest.mark.parametrize("text", [b"", b"\n", b"a letter to the editor\n", b"\xff\xfe\x00"])
def test_what_is_no_journal_is_left_alone(tmp_path, text):
    (tmp_path / "j").write_bytes(text)
    with pytest.raises(InputError, match=r"j: is not the journal of a study, or its head is damaged"):
        run(journal=tmp_path / "j")
    assert (tmp_path / "j").read_bytes() == text


@pytest.mark.parametrize(
    ("study", "text", "said"),
    [
        (SMALL_SCAN, BARE.replace("initial_C = 30", "initial_C = 31"), "product.initial_C was 30 and is 31"),
        (SMALL_SCAN, BARE.replace("z_C = 10 ", "z_C = 12 "), "lethality.z_C was 10 and is 12"),
        (SMALL_SCAN, BARE + "points = []\n", "points = [] is new"),
        (SMALL_SCAN, BARE.replace("output.every_min = 1\n", ""), "output.every_min, which was 1, is gone"),
        (SMALL_SCAN.replace("900]", "800]"), BARE, "study.vary.2.values.4 was 900 and is 800"),
        (SMALL_SCAN.replace(", 900]", "]"), BARE, "study.vary.2.values.4, which was 900, is gone"),
    ],
)
def test_runs_of_a_changed_case_are_not_mixed(tmp_path, study, text, said):
    if "points" in text:  # tables come last in TOML
        text = "points = []\n" + BARE
    run(journal=tmp_path / "j")
    before = (tmp_path / "j").read_bytes()
    with pytest.raises(InputError) as refused:
        run(study, text, journal=tmp_path / "j")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
    assert (tmp_path / "j").read_bytes() == before


def test_another_seed_is_told_as_such(tmp_path):
    run(SPREAD, journal=tmp_path / "j")
    with pytest.raises(InputError, match=r"would be mixed: study\.seed was 3 and is 4\. Give"):
        run(SPREAD.replace("seed = 3", "seed = 4"), journal=tmp_path / "j")


def test_another_version_of_the_program_does_not_go_on(tmp_path, monkeypatch):
    run(journal=tmp_path / "j")
    monkeypatch.setattr("thermsim.records.study.journal.PROGRAM", "thermsim 99.0")
    with pytest.raises(InputError, match=r'program was "thermsim [\d.]+" and is "thermsim 99\.0"'):
        run(journal=tmp_path / "j")


def test_a_changed_file_that_the_case_names_is_told(tmp_path):
    text = re.sub(
        r"start_C.*\nfilm(.*)\nstage.*\n",
        r'csv = "r.csv"\nfilm\1\ncooling_starts_min = 30\ncooling_film_W_m2K = 300\n',
        BARE,
    )
    record = "time_min,temperature_C\n" + "".join(f"{minute},121.{minute % 2}\n" for minute in range(61))

    def recorded(contents):
        case = case_from_text(text + SMALL_SCAN, name="bare.toml", attachments={"r.csv": contents})
        return run_study(case, executor=Here(), compute=series, journal=tmp_path / "j")

    recorded(record)
    with pytest.raises(InputError, match=r"mixed: file r\.csv has other contents"):
        recorded(record.replace("7,121.1", "7,120.1"))


def test_another_title_and_other_comments_change_nothing(tmp_path):
    first = run(journal=tmp_path / "j")
    made, counted = counting()
    text = BARE.replace("Bare cylinder", "Another name") + "# a remark\n"
    assert same(run(text=text, journal=tmp_path / "j", compute=counted), first)
    assert made == []


def test_a_journal_of_the_format_before_mismatch_is_refused_until_it_is_restarted(tmp_path):
    run(journal=tmp_path / "j")
    seal, head = (tmp_path / "j").read_text().splitlines()[0].split(" ", 1)
    assert json.loads(head)["journal format"] == 2
    old = json.dumps({**json.loads(head), "journal format": 1})
    (tmp_path / "j").write_text(f"{zlib.crc32(old.encode()):08x} {old}\n")
    with pytest.raises(InputError, match="format 1; this program reads and writes 2") as refused:
        run(journal=tmp_path / "j")
    assert "hold the mismatch at each depth" in str(refused.value)
    assert "holds the runs of another case" not in str(refused.value)
    assert run(journal=tmp_path / "j", restart=True).good.any()


def test_restart_discards_what_was_kept_whatever_it_was(tmp_path):
    run(SPREAD, journal=tmp_path / "j")
    made, counted = counting()
    first = run(journal=tmp_path / "j", compute=counted, restart=True)
    assert sorted(made) == list(range(12))
    assert same(run(journal=tmp_path / "j"), first)


def test_two_at_work_on_one_journal_are_kept_apart(tmp_path):
    pytest.importorskip("fcntl")
    run(journal=tmp_path / "j")
    head = json.loads((tmp_path / "j").read_text().splitlines()[0].split(" ", 1)[1])
    with Journal(tmp_path / "j", head):
        for restart in (False, True):
            with pytest.raises(InputError, match="another process is at work on this study"):
                run(journal=tmp_path / "j", restart=restart)
    assert run(journal=tmp_path / "j").good.any()


def test_scans_of_two_hundred_runs_are_what_the_killed_one_was():
    assert study_case(SCAN).study.runs == 200
