"""Customers: a page each, with contacts, addresses, presets, jobs and what is owed; merged, exported, forgotten."""
