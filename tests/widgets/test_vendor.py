"""The vendored drawing libraries are what their record says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scenariokit.widgets import engine
from scenariokit.widgets.vendor import renew

ROWS = engine.vendored()


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_vendored_file_has_the_recorded_hash(row: dict[str, str]) -> None:
    assert renew.sha256((renew.VENDOR / row["file"]).read_bytes()) == row["sha256"]
    assert row["version"] in row["file"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["name"])
def test_vendored_licence_is_kept_whole_and_is_the_recorded_one(row: dict[str, str]) -> None:
    content = (renew.VENDOR / row["licence_file"]).read_bytes()
    assert renew.sha256(content) == row["licence_sha256"]
    assert row["licence"] == "BSD-3-Clause"
    assert b"Redistributions of source code must retain" in content


def test_vendored_record_names_every_file_of_its_folder() -> None:
    named = {row[key] for row in ROWS for key in ("file", "licence_file")} | {renew.BUNDLED}
    present = {path.name for path in renew.VENDOR.iterdir() if path.suffix in (".js", ".txt")}
    assert present == named
    assert [row["name"] for row in ROWS] == list(renew.LIBRARIES)


def test_vendored_licences_of_what_is_built_in_are_kept() -> None:
    record = json.loads(renew.RECORD.read_text(encoding="utf-8"))["bundled"]
    text = (renew.VENDOR / record["licence_file"]).read_text(encoding="utf-8")
    assert any(name.startswith("d3-array ") for name in record["packages"])
    for name in record["packages"]:
        assert name in text
        assert "not stated" not in name


def test_renew_from_archives_rewrites_files_and_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import io
    import tarfile

    def installed(_versions: object, folder: Path) -> Path:
        inner = folder / "node_modules" / "@some" / "part"
        inner.mkdir(parents=True)
        about = {"name": "@some/part", "version": "1.2.3", "license": "ISC"}
        (inner / "package.json").write_text(json.dumps(about))
        (inner / "LICENSE").write_text("Permission to use")
        return folder / "node_modules"

    def packed(name: str, version: str, folder: Path) -> Path:
        archive = folder / f"{name}-{version}.tgz"
        files = {
            f"build/{name}.min.js": b"script",
            "LICENSE": b"licence",
            "package.json": b'{"license": "MIT"}',
        }
        with tarfile.open(archive, "w:gz") as made:
            for path, content in files.items():
                info = tarfile.TarInfo(f"package/{path}")
                info.size = len(content)
                made.addfile(info, io.BytesIO(content))
        return archive

    (tmp_path / "vega-0.0.1.min.js").write_text("old")
    monkeypatch.setattr(renew, "VENDOR", tmp_path)
    monkeypatch.setattr(renew, "RECORD", tmp_path / "VENDORED.json")
    monkeypatch.setattr(renew, "fetch", packed)
    monkeypatch.setattr(renew, "install", installed)
    renew.main(["vega=1.0.0", "vega-lite=2.0.0", "vega-embed=3.0.0"])
    record = json.loads((tmp_path / "VENDORED.json").read_text())
    assert [row["file"] for row in record["libraries"]] == [
        "vega-1.0.0.min.js", "vega-lite-2.0.0.min.js", "vega-embed-3.0.0.min.js",
    ]  # fmt: skip
    assert not (tmp_path / "vega-0.0.1.min.js").exists()


def test_renew_without_every_version_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        renew.main(["vega=1.0.0"])
    assert "vega-lite, vega-embed" in capsys.readouterr().err
