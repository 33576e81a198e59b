"""An installed wheel works outside the checkout, its migrations included."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.slow

pytest.importorskip("hatchling")
ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder into which the built wheel was unpacked, as an installer would."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    (wheel,) = folder.glob("*.whl")
    site = folder / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    return site


def test_a_wheel_made_from_the_source_archive_is_the_same(installed: Path, tmp_path: Path) -> None:
    build = [sys.executable, "-m", "hatchling", "build", "-d", str(tmp_path), "-t"]
    subprocess.run([*build, "sdist"], cwd=ROOT, check=True, capture_output=True)
    (archive,) = tmp_path.glob("*.tar.gz")
    with tarfile.open(archive) as held:
        held.extractall(tmp_path, filter="data")
    (source,) = (path for path in tmp_path.iterdir() if path.is_dir())
    subprocess.run([*build, "wheel"], cwd=source, check=True, capture_output=True)
    (again,), (wheel,) = tmp_path.glob("*.whl"), installed.parent.glob("*.whl")
    assert again.name == wheel.name and again.read_bytes() == wheel.read_bytes()


def run(site: Path, tmp_path: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run the installed package from another folder; the checkout is not on the path."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("TASKDB_")}
    environment |= {"PYTHONPATH": str(site), "TASKDB_STORE": str(tmp_path / "store.sqlite")}
    return subprocess.run(
        [sys.executable, "-P", "-m", "taskdb", *words],
        cwd=tmp_path, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_the_wheel_does_the_main_job_outside_the_checkout(installed, tmp_path):
    csv_file = tmp_path / "two.csv"
    csv_file.write_text("code,name,latitude_deg,longitude_deg\nA,Aa,48.0,11.0\nB,Bb,48.5,11.5\n", encoding="utf-8")
    for words in (
        ("set", "import", str(csv_file), "--into", "two"),
        ("task", "new", "T", "A", "B"),
        ("sheet", "T", "--to", "T.html"),
        ("export", "task", "T", "--format", "gpx,geojson,csv", "--to", "out"),
    ):
        done = run(installed, tmp_path, *words)
        assert done.returncode == 0, done.stderr
    assert (tmp_path / "T.html").exists()


def test_the_wheel_carries_its_own_migrations(installed, tmp_path):
    where = "import taskdb, taskdb.store.upgrade as u; print(taskdb.__file__); print(u.migrations_folder())"
    done = subprocess.run(
        [sys.executable, "-P", "-c", where],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(installed)}, capture_output=True, text=True, check=True,
    )  # fmt: skip
    package, migrations = done.stdout.split()
    assert Path(package).is_relative_to(installed)
    assert Path(migrations) == installed / "taskdb/migrations"
    assert (Path(migrations) / "env.py").exists()
