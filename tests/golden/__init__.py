"""One journal for each version of the envelope, kept for ever: what was written once is read for ever."""
