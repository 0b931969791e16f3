"""The README's pasted run is a real run: made again here, word for word.

`python tests/test_readme.py` pastes them anew.
"""

import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

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
    done = subprocess.run(
        [sys.executable, "-m", "envwatch", *words[1:]], capture_output=True, text=True, encoding="utf-8",
        cwd=folder, check=False,
    )  # fmt: skip
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
