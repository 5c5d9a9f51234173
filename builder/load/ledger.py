"""The ledger of issued codes, as it is read: one line a code, each line standing alone."""
