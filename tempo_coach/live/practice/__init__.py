"""The course of a practice: session, events and transitions, hand keys, the last word."""
