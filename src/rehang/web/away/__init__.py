"""Away from the network, and together on it: pages kept on a phone, and what others write."""
