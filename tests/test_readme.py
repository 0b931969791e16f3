"""The README's pasted run is a real run: made again here, word for word.

`python tests/test_readme.py` pastes them anew.
"""

import contextlib
import doctest
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from tests import program

PAGE = Path(__file__).parent.parent / "README.md"
README = PAGE.read_text(encoding="utf-8")
SESSIONS = re.findall(r"^```console\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def steps(session: str) -> list[tuple[str, str]]:
    """The commands of a session and what each printed."""
    parts = re.split(r"^\$ (.*)\n", session, flags=re.MULTILINE)[1:]
    return list(zip(parts[::2], parts[1::2], strict=True))


def run(command: str, folder: Path) -> str:
    """What a command prints inside a studio folder."""
    words = shlex.split(command)
    assert words[0] == "envwatch"
    with contextlib.chdir(folder):
        done = program.run(*words[1:])
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_the_readme_has_a_session_with_the_review():
    assert any("envwatch review" in session for session in SESSIONS)


@pytest.mark.parametrize("number", range(len(SESSIONS)))
def test_a_pasted_session_runs_as_printed(number, demo_copy):
    for command, printed in steps(SESSIONS[number]):
        assert run(command, demo_copy).strip() == printed.strip()


def test_each_command_stands_in_the_readme():
    out = subprocess.run(
        [sys.executable, "-m", "envwatch", "--help"], capture_output=True, text=True, check=True
    ).stdout
    commands = re.findall(r"^  ([a-z]+)  ", out.split("Commands:")[1], re.MULTILINE)
    assert len(commands) > 10
    missing = [command for command in commands if f"envwatch {command}" not in README]
    assert not missing


def test_the_lines_of_python_print_what_stands_there(tmp_path, demo_copy, monkeypatch):
    (block,) = re.findall(r"^```python\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    shutil.copytree(demo_copy, tmp_path / "lines" / "envwatch-demo")
    shutil.copytree(PAGE.parent / "sample_logs" / "logs", tmp_path / "lines" / "sample_logs" / "logs")
    monkeypatch.chdir(tmp_path / "lines")
    lines = doctest.DocTestParser().get_doctest(block, {}, "README.md", None, None)
    assert len(lines.examples) >= 6 and doctest.DocTestRunner().run(lines).failed == 0


def test_asking_for_a_name_fetches_what_it_needs_and_nothing_before():
    code = "import sys, envwatch; a = 'pandas' in sys.modules; envwatch.dew_point; print(a, 'pandas' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split()[0] == "False"
    import envwatch

    assert {*envwatch.__all__} <= {*dir(envwatch)} and all(getattr(envwatch, name) for name in envwatch.__all__)
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        envwatch.nothing_of_the_kind  # noqa: B018


def paste_anew() -> None:
    """Run every session in a fresh demo studio and put what it printed into the README."""
    from envwatch.cli.studio import make_demo

    text = README
    for session in SESSIONS:
        with tempfile.TemporaryDirectory() as scratch:
            make_demo(Path(scratch) / "studio", quiet=True).close()
            printed = "".join(f"$ {c}\n{run(c, Path(scratch) / 'studio').strip()}\n" for c, _ in steps(session))
        text = text.replace(f"```console\n{session}```", f"```console\n{printed}```")
    PAGE.write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    paste_anew()
