"""Files that leave the program: stills, maps, sheets, linear pictures and the index of them."""
