"""Installing, upgrading, going back and taking off in clean Debian roots: `make roots`.

Not part of `make test`: it needs root, debootstrap, systemd-nspawn and the network, and
takes some minutes.
"""
