"""kombu's file transport, with messages put in place whole."""

from kombu.transport.filesystem import Transport  # noqa: F401
