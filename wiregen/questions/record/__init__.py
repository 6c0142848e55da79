"""What was measured on the finished rig, judged and kept."""
