"""What is put together from many questions: page, packet, demo, notebook."""
