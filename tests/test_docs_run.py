"""What README.md shows runs, and every link in the docs leads somewhere."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from staking.book.describe import tables_markdown
from staking.cli import main

TOP = Path(__file__).parent.parent
PAGES = sorted([*TOP.glob("*.md"), *TOP.glob("docs/*.md"), *TOP.glob("sample_surveys/*/README.md")])


def _blocks(page: Path, language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page.read_text(encoding="utf-8"), re.DOTALL)


def test_the_python_in_readme_is_five_lines_and_runs(capsys):
    (code,) = _blocks(TOP / "README.md", "python")
    statements = [line for line in code.splitlines() if line.strip()]
    assert len(statements) == 5
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True, text=True, check=True)
    assert "'A1': " in done.stdout


def test_the_commands_in_readme_are_targets_of_the_makefile():
    makefile = (TOP / "Makefile").read_text(encoding="utf-8")
    commands = re.findall(r"make (\w+)", (TOP / "README.md").read_text(encoding="utf-8"))
    assert {"demo", "test"} <= set(commands)
    for page in ("README.md", "DEVELOPERS.md"):
        for command in re.findall(r"`make (\w+)`", (TOP / page).read_text(encoding="utf-8")):
            assert re.search(rf"^{command}:", makefile, re.MULTILINE), command


def test_continuous_integration_runs_the_command_that_readme_gives():
    assert "make test" in (TOP / ".ci" / "run").read_text(encoding="utf-8")


@pytest.mark.parametrize("page", PAGES, ids=lambda p: str(p.relative_to(TOP)))
def test_every_link_leads_somewhere(page):
    for target in re.findall(r"\]\(([^)#\s]+)", page.read_text(encoding="utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), target


def test_the_page_of_tables_is_what_the_declarations_say():
    assert (TOP / "docs" / "tables.md").read_text(encoding="utf-8") == tables_markdown()


def test_the_folder_of_readme_step_one_can_be_checked_for_what_is_missing(tmp_path, capsys):
    with pytest.raises(SystemExit) as done:
        main(["new", str(tmp_path / "my_yard")])
    assert done.value.code == 0
    with pytest.raises(SystemExit) as done:
        main(["new", str(tmp_path / "my_yard")])
    assert done.value.code == 2
