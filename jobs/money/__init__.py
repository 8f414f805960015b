"""A job's money: what is asked for and paid, what is owed by whom, and a month closed. No accounts program."""
