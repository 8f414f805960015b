"""The studio: settings, addresses and apps; its rooms are kit, house and stockroom below, and the whole above all."""
