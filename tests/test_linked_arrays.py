"""A file that lies under a second name is the file it should be, not one of its size."""

import numpy as np

from previz.frames.arrays import link_array, read_array, write_array

KIND = np.dtype("<f4")


def test_a_torn_file_of_the_same_size_is_not_taken_for_the_other(tmp_path):
    """One byte is wrong in the picture's own copy: it is linked anew and reads as it was written."""
    lamp, picture = tmp_path / "lamp", tmp_path / "picture"
    lamp.mkdir()
    picture.mkdir()
    values = np.arange(12, dtype=KIND)
    entry = write_array(lamp, "slices", values, KIND)
    result = link_array(picture, "lamp-0", lamp, entry)
    torn = picture / result["file"]
    content = bytearray(torn.read_bytes())
    content[-2] ^= 0x55
    torn.unlink()
    torn.write_bytes(content)
    again = link_array(picture, "lamp-0", lamp, entry)
    assert np.array_equal(read_array(picture, again, (12,), KIND), values)
    assert torn.samefile(lamp / entry["file"])
