"""Words, colours and turning that all documents share."""
