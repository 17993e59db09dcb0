"""The service company's pages: who needs a visit, in which order, with what in the van."""
