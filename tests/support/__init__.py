"""Tools that tests share: a real spreadsheet program, a second formula engine, pictures of sheets."""
