"""Files that went wrong on their way: a report or a RecordError, never anything else.

SCENARIOKIT_FUZZ=10000 raises the number of mutated files.
"""

from __future__ import annotations

import io
import os
import zipfile

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.pooling import pool
from scenariokit.trials.records import (
    read_records,
    read_study,
    record_template,
    record_workbook,
    report_csv,
    study_template,
)

EXAMPLES = int(os.environ.get("SCENARIOKIT_FUZZ", "150"))

ROWS = [
    {
        "study_id": "S", "plot_id": str(number), "rep": "1", "treatment": "pots",
        "genotype": "early", "planting_date": "2026-05-01", "harvest_date": "2026-09-01",
        "plot_area": 2.0, "ttwp": 8.0, "mtwp": 6.5, "ntp": 10, "nph": 9, "tntp": 80,
        "reservoir": "T1", "note": "a 'quoted', note",
    }
    for number in range(3)
]  # fmt: skip
CSV = record_template(ROWS).encode()
XLSX = record_workbook(ROWS)
STUDY = (study_template() + "title,Pots\n").encode()

# What files really meet: cut ends, doubled lines, other signs, other encodings, flipped bits.
PIECES = st.binary(max_size=6) | st.sampled_from(
    [b",", b";", b"\t", b"\n", b"\r", b'"', b"'", b"[", b"]", b"[kg]", b"[lb]", b"[g/L]", b"[9^9^9]",
     b"[kg**99]", b"-1", b"1e309", b"nan", b"inf", b"\xef\xbb\xbf", b"\xff", b"\x00", b"=1+1",
     b"0001-01-01", b"9999-12-31", b"\xe2\x88\x92", b"NA", b" " * 50, b"plot_id", b"9" * 400,
     b"1_0", b"\xd9\xa3", b"\x0b", b"\xe2\x80\xa8", b"2026-02-30"]
)  # fmt: skip


@st.composite
def mutated(draw, content):
    """Return `content` with one to four pieces replaced, put in, or taken out."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, max(len(content) - 1, 0)))
        length = draw(st.sampled_from([0, 1, 2, 8, 40, len(content)]))
        content = content[:start] + draw(PIECES) + content[start + length :]
    return content


@st.composite
def workbooks(draw):
    """Return a workbook with a mutated part inside an archive that is whole."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(XLSX)) as archive, zipfile.ZipFile(out, "w") as copy:
        names = archive.namelist()
        chosen = draw(st.sampled_from(["xl/worksheets/sheet1.xml", *names]))
        for name in names:
            content = archive.read(name)
            copy.writestr(name, draw(mutated(content)) if name == chosen else content)
    return out.getvalue()


def outcome(content):
    try:
        records = read_records(content, name="mutated")
    except RecordError:
        return
    text = report_csv(records)
    assert text.count("\n") >= len(records.problems)
    if not records.rows:
        assert len(records.plots) == 0


limits = settings(
    max_examples=EXAMPLES, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@limits
@given(mutated(CSV))
def test_read_records_mutated_csv_gives_report_or_record_error(content):
    outcome(content)


@limits
@given(mutated(XLSX) | workbooks())
def test_read_records_mutated_workbook_gives_report_or_record_error(content):
    outcome(content)


@limits
@given(mutated(STUDY))
def test_read_study_mutated_sheet_gives_study_or_record_error(content):
    try:
        study = read_study(content, name="mutated")
    except RecordError:
        return
    assert study.title


@settings(limits, max_examples=max(EXAMPLES // 10, 10))
@given(st.lists(mutated(CSV) | mutated(XLSX) | st.binary(max_size=300), min_size=1, max_size=8))
def test_pool_mutated_files_never_stop_a_good_one(contents):
    good = record_template([{**ROWS[0], "study_id": "kept apart"}]).encode()
    files = [(f"{number}.csv", content) for number, content in enumerate([*contents, good])]
    pooled = pool(files)
    assert any(row["study_id"] == "kept apart" for row in pooled.rows())
    assert len(pooled.files) == len(files)
    assert all(file.rows or file.problems for file in pooled.files)
    list(pooled.flags())
    pooled.plots()
