"""The blocks of the findings: what is asked of the run table, answered as plain data, a module a subject."""
