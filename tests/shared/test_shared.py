import shared


def test_a_path_leads_into_the_package() -> None:
    assert shared.path("scenarios", "x.toml").parts[-3:] == ("shared", "scenarios", "x.toml")


def test_names_are_in_order_and_without_ending() -> None:
    found = shared.names("rosters")
    assert "kiln-lane" in found
    assert list(found) == sorted(found)


def test_a_kind_that_has_nothing_has_no_names() -> None:
    assert shared.names("nothing of the kind") == ()
