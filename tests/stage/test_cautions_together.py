"""Cautions of several options are reported once."""

from previz.stage.cautions import together


def test_a_caution_that_another_says_with_more_names_is_left_out():
    """One lamp fewer overhead adds nothing; other weights, other things and other words stay."""
    both = "Overhead: key, back. Secure them."
    lines = [both, "Overhead: key. Secure them.", "Overhead: key. Secure them. 4 kg.",
             "Overhead: rim. Secure them.", "Heat: key is 0.2 m from silk. Keep off.", both]
    assert together(lines) == (both, "Overhead: key. Secure them. 4 kg.",
                               "Overhead: rim. Secure them.",
                               "Heat: key is 0.2 m from silk. Keep off.")
