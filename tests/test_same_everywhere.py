"""The same job gives the same bytes in any process, and is read wherever and however it is kept."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

EXAMPLES = Path(__file__).parents[1] / "examples"
PROGRAM = "from shapecut.cli import main; main(prog_name='shapecut')"


def shapecut(*arguments, program=PROGRAM, **environment):
    """Run a command as a user does, in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", program, *map(str, arguments)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=os.environ | environment,
        check=False,
    )


def contents(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize("example", ["corner_shelf", "alcove_shelf"])
def test_two_processes_give_the_same_bytes(tmp_path, example):
    """However Python orders its sets, and however many threads work on the photographs."""
    made = []
    for number, seed in enumerate(["1", "4000000000"]):
        out = tmp_path / str(number)
        done = shapecut("make", EXAMPLES / example, "--out", out, PYTHONHASHSEED=seed)
        assert done.returncode == 0, done.stderr
        made.append(contents(out))
    assert made[0].keys() == made[1].keys()
    different = [name for name in made[0] if made[0][name] != made[1][name]]
    assert different == []


@pytest.fixture
def job(tmp_path):
    """A job whose path has blanks, quotes and letters of several scripts."""
    folder = tmp_path / "Säge & 'Brett' 木の床" / "пристань №2"
    folder.parent.mkdir()
    done = shapecut("new", folder)
    assert done.returncode == 0, done.stderr
    return folder


def test_paths_of_any_letters(job):
    done = shapecut("make", job)
    assert done.returncode == 0, done.stderr
    assert str(job / "cut") in done.stdout
    assert "пристань №2" in (job / "cut" / "report.html").read_text("utf-8")


@pytest.mark.parametrize("head", [b"", b"\xef\xbb\xbf"])
def test_windows_line_endings_and_a_byte_order_mark(job, head):
    expected = shapecut("make", job, "--out", job / "one")
    for name in ("job.toml", "outline.json"):
        text = (job / name).read_bytes()
        (job / name).write_bytes(head + text.replace(b"\n", b"\r\n"))
    done = shapecut("make", job, "--out", job / "two")
    assert done.returncode == expected.returncode == 0, done.stderr
    assert contents(job / "one") == contents(job / "two")


@pytest.mark.parametrize("locale", ["de_DE.UTF-8", "C"])
def test_a_locale_changes_no_byte(job, tmp_path, locale):
    """German writes a decimal comma, and C knows no letter beyond ASCII."""
    if locale != "C":
        if shutil.which("localedef") is None:
            pytest.skip("this machine makes no locales")
        made = ["localedef", "-i", "de_DE", "-f", "UTF-8", tmp_path / locale]
        subprocess.run(made, check=True)
    local = f"import locale; locale.setlocale(locale.LC_ALL, {locale!r}); {PROGRAM}"
    where = {"LC_ALL": locale, "LOCPATH": str(tmp_path)}
    done = shapecut("make", job, "--out", job / "two", program=local, **where)
    assert done.returncode == 0, done.stderr
    expected = shapecut("make", job, "--out", job / "one")
    assert expected.returncode == 0
    assert contents(job / "one") == contents(job / "two")


def test_without_the_libraries_that_opencv_needs_it_says_what_to_install(tmp_path):
    broken = tmp_path / "cv2.py"
    broken.write_text("raise ImportError('libGL.so.1: cannot open shared object file')")
    photo = EXAMPLES / "alcove_shelf" / "alcove.jpg"
    done = shapecut("check", photo, PYTHONPATH=str(tmp_path))
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "libGL.so.1" in done.stderr
    assert "opencv-python-headless" in done.stderr


def test_a_job_in_the_current_folder(job):
    shutil.copytree(job, job.parent / "copy")
    here = subprocess.run(
        [sys.executable, "-c", PROGRAM, "make", "."],
        cwd=job.parent / "copy",
        capture_output=True,
        text=True,
        check=False,
    )
    assert here.returncode == 0, here.stderr
    assert (job.parent / "copy" / "cut" / "report.html").exists()
