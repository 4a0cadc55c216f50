"""What the data are: frame contracts, vocabularies, layouts and the store's tables."""
