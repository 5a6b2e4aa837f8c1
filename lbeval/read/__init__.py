"""Files as they are: cells of text with the file, sheet, row and column they came from."""
