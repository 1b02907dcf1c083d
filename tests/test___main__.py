"""The entry that works before anything is installed: what it mends, and what it must not run."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from workbook import __main__ as entry

PROJECT = Path(entry.PROJECT)
LOADED_BY_PYTHON_ITSELF = {
    "importlib",
    "warnings",
    "contextlib",
    "collections",
    "keyword",
    "operator",
    "reprlib",
    "functools",
    "types",
    "threading",
    "_weakrefset",
    "_collections_abc",
    "typing",
}
"""What `python -m` imports before it comes to the module that it was asked for."""


def leave_traps(folder: Path) -> None:
    """A stranger's file for every module of Python and for the libraries used here."""
    libraries = {
        "bqplot",
        "ipykernel",
        "IPython",
        "jupyterlab",
        "numpy",
        "pandas",
        "scipy",
        "tornado",
    }
    names = set(sys.stdlib_module_names) | libraries | {"sitecustomize", "usercustomize"}
    for name in names - LOADED_BY_PYTHON_ITSELF - {"__main__"}:
        (folder / f"{name}.py").write_text(f"raise SystemExit('ran {name}')\n", "utf-8")


def test_a_file_in_the_current_folder_is_never_run(tmp_path: Path) -> None:
    leave_traps(tmp_path)
    found = subprocess.run(
        [sys.executable, "-m", "workbook", "size", PROJECT / "notebooks/designs/survey_six.toml"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(PROJECT), "PATH": ""},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert found.returncode == 0, found.stderr
    assert "HOLDS" in found.stdout
    assert "ran " not in found.stdout + found.stderr


def test_a_package_of_somebody_else_keeps_its_own_folder(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "__init__.py").write_text("import workbook\n", "utf-8")
    (tmp_path / "mine" / "__main__.py").write_text("import beside; print(beside.A)\n", "utf-8")
    (tmp_path / "beside.py").write_text("A = 'mine'\n", "utf-8")
    command = [sys.executable, "-m", "mine"]
    environment = {**os.environ, "PYTHONPATH": str(PROJECT)}
    environment.pop("PYTHONSAFEPATH", None)
    assert subprocess.check_output(command, cwd=tmp_path, env=environment, text=True) == "mine\n"


@pytest.fixture
def environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A checkout with an environment in it that holds nothing yet."""
    monkeypatch.setattr(entry, "PROJECT", tmp_path)
    monkeypatch.setattr(entry, "ENVIRONMENT", tmp_path / ".venv")
    monkeypatch.setattr(entry, "PINS", tmp_path / "pins.txt")
    (tmp_path / "pyproject.toml").write_text("", "utf-8")
    (tmp_path / ".venv" / "lib" / "python3" / "site-packages").mkdir(parents=True)
    return tmp_path / ".venv"


def installed(environment: Path, name: str, *files: str, record: bool = True) -> Path:
    """A package as pip leaves it; without its record, as a killed pip does."""
    place = environment / "lib" / "python3" / "site-packages"
    about = place / f"{name}-1.0.dist-info"
    about.mkdir()
    (about / "METADATA").write_text(f"Name: {name}\nVersion: 1.0\n", "utf-8")
    if record:
        (about / "RECORD").write_text("".join(f"{file},,\n" for file in files), "utf-8")
    return about


def test_the_environment_finds_the_project_after_both_were_moved(environment: Path) -> None:
    packages = environment / "lib" / "python3" / "site-packages"
    (packages / "_editable_impl_workbook.pth").write_text("/where/it/was/once", "utf-8")
    entry._let_it_be_moved()
    found = (packages / "_editable_impl_workbook.pth").read_text("utf-8").strip()
    assert (packages / found).resolve() == environment.parent.resolve()
    assert not Path(found).is_absolute()


@pytest.mark.skipif(os.name != "posix", reason="Windows has a program in its place")
def test_the_command_finds_its_python_after_both_were_moved(environment: Path) -> None:
    command = environment / "bin" / "workbook"
    command.parent.mkdir()
    command.write_text("#!/where/it/was/once/python\n", "utf-8")
    command.chmod(0o755)
    (command.parent / "python").symlink_to(sys.executable)
    entry._let_it_be_moved()
    moved = environment.rename(environment.parent / "ein Schrank für Нас")
    run = [moved / "bin" / "workbook", "--version"]
    path = {**os.environ, "PYTHONPATH": os.pathsep.join([str(PROJECT), *sys.path])}
    assert subprocess.check_output(run, env=path, text=True).startswith("workbook ")


def test_a_python_that_is_not_there_does_not_work(environment: Path) -> None:
    assert not entry._works("-c", "pass")


def test_a_library_that_cannot_be_loaded_is_told_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "workbook.cli", None)
    assert entry.command() == entry.EXIT_UNUSABLE
    printed = capsys.readouterr()
    assert not printed.out
    assert len(printed.err.splitlines()) == 1


@pytest.mark.parametrize(
    ("needs", "plain", "testing"),
    [
        (["numpy>=2"], True, True),
        (["no-such-thing>=1"], False, False),
        (["numpy", "no-such-thing; extra == 'test'"], True, False),
        (["no-such-thing; (python_version < '3') and extra == 'test'"], True, True),
        (["no-such-thing; extra == 'dev'", 'pytest[all]>=1; extra == "test"'], True, True),
    ],
)
def test_what_is_needed_is_what_the_project_says_for_every_machine(
    monkeypatch: pytest.MonkeyPatch, needs: list[str], plain: bool, testing: bool
) -> None:
    monkeypatch.setattr(entry.importlib.metadata, "requires", lambda _name: needs)
    assert (entry._in_place(False), entry._in_place(True)) == (plain, testing)


def test_only_what_was_installed_whole_is_believed(environment: Path) -> None:
    place = environment / "lib" / "python3" / "site-packages"
    (place / "whole.py").write_text("", "utf-8")
    whole = installed(environment, "whole", "whole.py", "__pycache__/whole.cpython-311.pyc")
    lacking = installed(environment, "lacking", "lacking.py")
    killed = installed(environment, "killed", record=False)
    entry._forget_the_half_installed()
    assert [about.exists() for about in (whole, lacking, killed)] == [True, False, False]


def test_where_the_newest_versions_fail_the_pinned_ones_are_installed(
    environment: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[str] = []

    def run(command: list[str], **_options: object) -> int:
        if "pip" not in command:
            return 0
        asked.append(" ".join(command))
        return 0 if "--constraint" in command else 1

    monkeypatch.setattr(entry, "_run", run)
    monkeypatch.setattr(entry, "DISK_BYTES", 0)
    monkeypatch.setattr(entry, "_complete", lambda _testing: True)
    entry.PINS.write_text("numpy==2.4.6\n", "utf-8")
    entry._install(testing=False, keep_open=())
    assert len(asked) == 2
    assert "--constraint" not in asked[0]
    assert "last seen to work" in capsys.readouterr().err


def test_an_installation_that_fails_is_told_in_words_and_no_limit_is_called_broken(
    environment: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(entry, "_run", lambda *_arguments, **_options: 1)
    with pytest.raises(SystemExit) as ended:
        entry._prepare(testing=False)
    printed = capsys.readouterr()
    assert ended.value.code == entry.EXIT_UNUSABLE
    assert not printed.out
    assert "run the same command again" in printed.err


@pytest.mark.parametrize(
    ("mark", "testing", "again"),
    [
        ("-plain", False, False),
        ("-plain", True, True),
        ("[test]", False, False),
        ("[test]", True, False),
    ],
)
def test_what_was_set_up_for_tests_serves_for_all(
    environment: Path, monkeypatch: pytest.MonkeyPatch, mark: str, testing: bool, again: bool
) -> None:
    installed: list[bool] = []
    monkeypatch.setattr(entry, "_works", lambda *_arguments: True)
    monkeypatch.setattr(entry, "_install", lambda testing, _keep_open: installed.append(testing))
    (environment / f"workbook-installed{mark}").touch()
    entry._set_up(testing)
    assert installed == [testing] * again


@pytest.mark.skipif(os.name != "posix", reason="folders of POSIX")
def test_an_environment_of_another_python_stays_until_the_new_one_is_whole(
    environment: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ends: list[type[BaseException]] = [SystemExit, KeyboardInterrupt, SystemExit]

    def install(_testing: bool, _keep_open: object) -> None:
        environment.mkdir(exist_ok=True)
        (environment / "half").touch()
        if ends:
            raise ends.pop(0)

    monkeypatch.setattr(entry, "_make_environment", lambda _keep_open: None)
    monkeypatch.setattr(entry, "_install", install)
    (environment / "workbook-installed-plain").touch()
    aside = environment.with_name(".venv-before")
    for ended, back in ((SystemExit, True), (KeyboardInterrupt, False), (SystemExit, True)):
        with pytest.raises(ended):
            entry._set_up(testing=False)
        assert (aside.exists(), (environment / "half").exists()) == (not back, not back)
    (environment / "workbook-installed-plain").write_text("of another version", "utf-8")
    entry._set_up(testing=False)
    assert not aside.exists()
    assert (environment / "half").exists()


@pytest.mark.parametrize("missing", ["venv", "ensurepip"])
def test_a_python_without_venv_says_what_to_install(
    environment: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    missing: str,
) -> None:
    monkeypatch.setattr(entry.importlib.util, "find_spec", lambda name: name != missing)
    with pytest.raises(SystemExit):
        entry._prepare(testing=False)
    assert "apt-get install python3-venv" in capsys.readouterr().err


def test_a_read_only_checkout_says_so(
    environment: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(entry.os, "access", lambda _place, _mode: False)
    with pytest.raises(SystemExit) as ended:
        entry._prepare(testing=False)
    assert ended.value.code == entry.EXIT_UNUSABLE
    assert "is read-only" in capsys.readouterr().err


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("stop", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_ends_the_set_up_and_what_it_started(tmp_path: Path, stop: str) -> None:
    child = "import os, time; print(os.getpid(), flush=True); time.sleep(60)"
    code = (
        f"import signal; signal.signal(signal.{stop}, signal.default_int_handler)\n"  # nohup has it ignored
        "import sys, workbook.__main__ as entry\n"
        f"entry._set_up = lambda testing: entry._run([sys.executable, '-c', {child!r}])\n"
        "entry._prepare(False)"
    )
    with subprocess.Popen(
        [sys.executable, "-c", code], stderr=subprocess.PIPE, cwd=tmp_path, text=True,
        env={**os.environ, "PYTHONPATH": str(PROJECT)},
    ) as setting_up:  # fmt: skip
        assert setting_up.stderr is not None
        started = int(setting_up.stderr.readline())
        setting_up.send_signal(getattr(signal, stop))
        output = setting_up.stderr.read()
        assert setting_up.wait(20) == entry.EXIT_UNUSABLE
    assert "the next run goes on from here" in output
    for _ in range(50):
        if not _alive(started):
            break
        time.sleep(0.1)
    assert not _alive(started)


def _alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True
