"""What is shipped: both archives hold all that the program reads, and it runs from the wheel."""

import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "src" / "cogtally"


def _run(*words: str | Path, cwd: Path) -> str:
    done = subprocess.run(
        list(map(str, words)), cwd=cwd, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def _built(kind: str, folder: Path) -> Path:
    """The archive of this checkout, made as an installer makes it, without a network."""
    _run(sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", folder, cwd=ROOT)
    return next(folder.iterdir())


def _pip() -> Path:
    """A Python that has pip: that of the tests, or the one that it was made of."""
    base = Path(sys.base_prefix, "bin", "python3")
    pythons = (Path(sys.executable), base)
    return next(p for p in pythons if not subprocess.run([p, "-c", "import pip"]).returncode)


@pytest.mark.long
def test_the_wheel_holds_what_the_program_reads(tmp_path):
    """Every file of the package, the demo and `py.typed` are in both archives."""
    own = {
        file.relative_to(PACKAGE.parent).as_posix()
        for file in PACKAGE.rglob("*")
        if file.is_file() and file.suffix != ".pyc"
    }
    assert {"cogtally/py.typed", "cogtally/guide/bench.md", "cogtally/field/page/law.js"} <= own
    demo = {f"cogtally/catalog/demo/{file.name}" for file in ROOT.glob("catalog/*.toml")}
    with zipfile.ZipFile(_built("wheel", tmp_path / "wheel")) as wheel:
        assert own | demo <= set(wheel.namelist())
    with tarfile.open(_built("sdist", tmp_path / "sdist")) as source:
        held = {name.partition("/")[2] for name in source.getnames()}
    assert {f"src/{name}" for name in own} <= held
    assert {"catalog/alder-4.toml", "scripts/test", "README.md"} <= held


@pytest.mark.long
def test_a_command_runs_from_the_installed_wheel(tmp_path):
    """Installed into an environment of its own, the program answers and finds its pages."""
    home = tmp_path / "env"
    venv.create(home, with_pip=False)
    python = home / "bin" / "python"
    asked = "import site; print(site.getsitepackages()[0])"
    site = Path(_run(python, "-c", asked, cwd=tmp_path).strip())
    # What it depends on is that of the tests; a checkout that is named there is not seen.
    others = [path for path in sys.path if Path(path).name == "site-packages"]
    (site / "others.pth").write_text("\n".join(others), encoding="utf-8")
    wheel = _built("wheel", tmp_path / "wheel")
    install = ("-m", "pip", "--python", python, "install", "--no-deps", "--ignore-installed")
    _run(_pip(), *install, "--disable-pip-version-check", wheel, cwd=tmp_path)
    program = home / "bin" / "cogtally"
    where = "import cogtally; print(cogtally.__file__)"
    assert Path(_run(python, "-c", where, cwd=tmp_path).strip()).is_relative_to(site)
    box = ("input=17/28", "1=14/31", "2=19/26", "3=24/21")
    assert "alder-4/wide" in _run(program, "identify", "--demo", *box, cwd=tmp_path)
    assert "A box on the bench" in _run(program, "guide", "bench", cwd=tmp_path)
    _run(program, "field", "--demo", "--out", "page.html", cwd=tmp_path)
    assert (tmp_path / "page.html").stat().st_size > 10_000
