"""What is usual in the trade and nowhere published, as tables of words; none of it binds anybody.

Each table is a file under `rules/data/practice`, read once and strictly.
"""
