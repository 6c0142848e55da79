"""Where a contact, wire, fuse, lamp or terminal leads, and what hangs on it."""
