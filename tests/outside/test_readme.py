"""The commands of the README do what the README says."""

import re
import shlex
import subprocess

from conftest import ROOT

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [block.strip() for block in re.findall(r"```sh\n(.*?)```", TEXT, re.S)]


def test_there_are_exactly_two_commands_and_the_second_runs_every_test():
    assert len(COMMANDS) == 2
    assert COMMANDS[1] == "tests/all"


def test_the_first_command_writes_a_program_and_says_where(tmp_path):
    words = shlex.split(COMMANDS[0])
    words[words.index("--out") + 1] = str(tmp_path)
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    [program] = tmp_path.glob("*.nc")
    assert str(program) in done.stdout
    assert re.search(r"\d+ obligations", done.stdout), done.stdout
