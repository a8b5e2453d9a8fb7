from simulators.conformance import vectors


def test_this_program_fits_its_vectors() -> None:
    found = vectors.check()
    assert found.wrong == ()
    assert found.count > 50
