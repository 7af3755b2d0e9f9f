"""The gram ledger: facts appended and sealed; postings, states and findings derived from them by replay."""
