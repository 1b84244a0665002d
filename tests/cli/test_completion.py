import shutil
import subprocess

import pytest

from tempo_coach.cli import COMMANDS, main
from tempo_coach.cli.completion import SHELLS


@pytest.mark.parametrize("shell", SHELLS)
def test_every_command_is_in_the_script(shell, capsys):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    assert all(command in script for command in COMMANDS)


def test_bash_completes_a_command_and_an_option(capsys):
    bash = shutil.which("bash")
    if bash is None:
        pytest.skip("there is no bash")
    assert main(["completion", "bash"]) == 0
    script = capsys.readouterr().out
    for line, wanted in (("tempo-coach lis", "listen"), ("tempo-coach listen --bea", "--beats")):
        words = line.split()
        ask = (
            f"{script}\nCOMP_WORDS=({line}); COMP_CWORD={len(words) - 1}; COMP_LINE='{line}'; COMP_POINT={len(line)}\n"
            "_shtab_tempo_coach; echo ${COMPREPLY[@]}"
        )
        done = subprocess.run([bash, "-c", ask], capture_output=True, text=True, check=True)
        assert wanted in done.stdout.split()
