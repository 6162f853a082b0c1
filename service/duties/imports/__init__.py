"""How lists kept elsewhere are read: mapping, cells, sheet, rows; nothing here records anything."""
