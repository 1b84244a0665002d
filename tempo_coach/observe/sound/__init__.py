"""Recordings of sound: put on the music heard in them, contacts and voice found, dealt to the hands of a plan."""
