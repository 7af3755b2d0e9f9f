"""What leaves in forms that others read: EPCIS documents, papers, spreadsheets. Values in; it knows no ledger."""
