"""The lab's network: its names, certificates, addresses, and the door by which tablets are set up."""
