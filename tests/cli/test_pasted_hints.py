"""What a hint says to type is pasted into a real shell, with names that shells would take apart."""

from __future__ import annotations

import re
import subprocess

import pytest

from taskdb.errors import ExitCode

NAMES = ["Varn Cup", 'it\'s "big" $HOME `id` \\n *', "-x y", "Zürich & Söhne; 2027", "a \u202eb"]
COMMAND = re.compile(r"taskdb .*?(?=`? (?:shows|lists|brings|makes|issues)|`\.|$)", re.MULTILINE)


def pasted(hint: str) -> list[str]:
    """Return the words that a shell hands to taskdb of the command in a hint."""
    line = COMMAND.search(hint)
    assert line is not None, hint
    script = f"taskdb() {{ for word; do printf '%s\\0' \"$word\"; done; }}\n{line[0]}"
    done = subprocess.run(["sh", "-c", script], capture_output=True, check=True, timeout=20)
    return done.stdout.decode("utf-8").split("\0")[:-1]


def without_dashes(words: list[str]) -> list[str]:
    return [word for word in words if word != "--"]


@pytest.mark.parametrize("name", NAMES)
def test_hints_can_be_pasted_whatever_the_names(taskdb, tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    good = "code,name,latitude_deg,longitude_deg\nA,Quarry,47.5,9.25\nB,Castle,47.75,9.5\nC,Chapel,47.5,9.75\n"
    here = "./" if name.startswith("-") else ""
    file = f"{here}{name}.csv"
    (tmp_path / file).write_text(good, encoding="utf-8")
    made = [
        ("set", "import", "--into", name, "--", file),
        ("contest", "new", "--set", name, "--", name),
        ("task", "new", "--contest", name, "--", name, "A", "B", "C", "A"),
    ]
    for words in made:
        assert taskdb(*words).exit_code is ExitCode.DONE

    def refused(*words: str) -> list[str]:
        done = taskdb(*words, "--json") if "--" not in words else taskdb(words[0], "--json", *words[1:])
        return pasted(done.error()["hint"])

    looks = [
        (refused("set", "show", "--", f"{name}@9"), ["set", "log", name]),
        (refused("contest", "show", "--", f"{name}@9"), ["contest", "log", name]),
        (refused("task", "show", "--", f"{name}@9"), ["task", "log", name]),
        (refused(*made[1]), ["contest", "show", name]),
        (refused("check", "fix", "--", name, "abc"), ["check", "run", name]),
        (refused("set", "patch", "--to", "p.json", "--", f"{name}@1", f"{name}@1"), ["set", "log", name]),
    ]
    for words, meant in looks:
        assert without_dashes(words) == meant
        assert taskdb(*words).exit_code is ExitCode.DONE, words

    assert taskdb("task", "retire", "--", name).exit_code is ExitCode.DONE
    words = refused(*made[2])
    assert without_dashes(words) == ["task", "restore", name]
    assert taskdb(*words).exit_code is ExitCode.DONE

    (tmp_path / file).write_text(good + "D,Fort,95,9\n", encoding="utf-8")
    words = refused(*made[0])
    assert sorted(without_dashes(words)) == sorted(
        ["set", "import", file, "--into", name, "--on-error", "skip", "--rejects", f"{here}{name}-rejects.csv"]
    )
    assert taskdb(*words).exit_code is ExitCode.ACT
    assert (tmp_path / f"{name}-rejects.csv").is_file()
