"""The bench: a job folder as a page in the browser, on this machine only.

It computes nothing itself: it calls the same stages as the command line, on the same job folder.

Glossary:
    gate: what decides whether a request comes from the page that the bench itself opened.
    edit: one value set, or taken away, in one table of job.toml.
    try: the rows as they would be with some edits; nothing is written.
"""
