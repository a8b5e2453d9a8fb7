"""Another source is another digest; no source is none."""

from pathlib import Path

from monitor.checkpoint import code


def test_it_is_of_the_whole_fold() -> None:
    assert len(code.digest()) == 32
    assert [part.name for part in code.PARTS] == ["incident", "checkpoint", "protocol"]
    assert all((part / "__init__.py").is_file() for part in code.PARTS)


def test_any_change_of_the_source_changes_it(tmp_path: Path) -> None:
    part = tmp_path / "incident"
    (part / "air").mkdir(parents=True)
    one, two = part / "one.py", part / "air" / "two.py"
    one.write_text("x = 1\n")
    two.write_text("y = 2\n")
    seen = {code.of((part,))}
    assert code.of((part,)) in seen
    two.write_text("y = 3\n")
    seen.add(code.of((part,)))
    two.rename(part / "two.py")
    seen.add(code.of((part,)))
    one.write_text("x = 1\n\n")
    seen.add(code.of((part,)))
    (part / "notes.md").write_text("no source")
    assert code.of((part,)) in seen
    assert len(seen) == 4


def test_without_a_source_there_is_none(tmp_path: Path) -> None:
    assert code.of((tmp_path,)) == ""
    assert code.of((tmp_path / "gone",)) == ""
