-- Paired phones belong to the computer, not to a family's notebook: the page keeps them in a file beside it, and nothing ever stood here.
DROP TABLE devices;
