package ledger

// kindMend is the kind of the record by which the ledger says what was mended.
const kindMend = "mend"
