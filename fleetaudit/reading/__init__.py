"""From files to frames: the sheet, its heading, and every cell with what it was read as."""
