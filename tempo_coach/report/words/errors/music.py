"""Errors of music, its beats and its counts, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tempo_coach.languages import tr
from tempo_coach.report.words.errors.resources import HINTS, WANTED

if TYPE_CHECKING:
    from tempo_coach.report.words.errors.forms import Entry

_SOUND = WANTED["sound"]
#: Kinds of files that are none of plain sound, as :func:`tempo_coach.music.files.content.find_other_kind` has them.
_KINDS = {
    "mpeg4": "an MPEG-4 file (m4a, mp4 or mov)",
    "quicktime": "a video (QuickTime)",
    "matroska": "a video (Matroska or WebM)",
    "aac": "AAC sound",
    "mpeg": "a video (MPEG)",
    "flv": "a video (FLV)",
    "avi": "a video (AVI)",
    "theora": "a video (Ogg Theora)",
    "windows_media": "a Windows Media file",
    "png": "a picture (PNG)",
    "jpeg": "a picture (JPEG)",
    "gif": "a picture (GIF)",
    "bmp": "a picture (BMP)",
    "webp": "a picture (WebP)",
    "pdf": "a PDF",
    "midi": "a MIDI file, which holds notes and no sound",
    "zip": "a zip archive",
    "gzip": "a gzip archive",
    "program": "a program",
    "text": "text",
    "unknown": "a file of an unknown kind",
}

WORDS: dict[str, Entry] = {
    "beats.too_many": ("expected up to {most:,} beats, found {found:,}", HINTS["beats"]),
    "beats.unknown_kind": ("expected beats as text or MIDI, found something else", HINTS["beats"]),
    "beats.no_time": ("expected a time in seconds, got {found!r}", HINTS["beats"]),
    "beats.negative_time": "expected a time from 0 s, got {time_s:g}",
    "beats.too_many_lines": ("expected up to {most:,} beats, found more", HINTS["beats"]),
    "beats.no_place": "expected a place in the bar from 1, got {found!r}",
    "beats.none": ("the file names no beat", HINTS["beats"]),
    "beats.some_places": ("expected a place in the bar on every line or on none", "mend or drop them"),
    "beats.out_of_order": ("expected a time after {before_s:g} s, got {time_s:g}", "sort the lines by time"),
    "beats.outside": "expected a time inside the music of {duration_s:.2f} s, got {time_s:g}",
    "beats.more_problems": "and {more} more problems of this kind",
    "beats.few": ("expected two or more beats, got {found}", HINTS["beats"]),
    "beats.too_close": (
        "beats {beat} and {next_beat} lie {apart_ms:.3g} ms apart at {at_s:.3f} s, which nobody counts",
        "leave one of them out",
    ),
    "tempo.out_of_range": (
        "expected a tempo of {slowest_bpm} to {fastest_bpm} beats a minute, got {tempo_bpm:g}",
        "count how many beats fall into 15 seconds and multiply by four",
    ),
    "tempo.not_heard": (
        "no beat of {tempo_bpm:g} a minute is heard, the nearest goes at {found_bpm:.0f}",
        "tap along once, or leave the option out",
    ),
    "tempo.hardly_heard": (
        "{tempo_bpm:g} a minute is counted, few of whose counts are heard: the music seems to go at {rather_bpm:.0f}",
        "tap along once, or leave the option out",
    ),
    "meter.out_of_range": "expected 2 to 12 beats a bar, got {meter}",
    "meter.not_heard": (
        "bars of {meter} are not heard, but bars of {found}",
        "tap along once, or leave the option out",
    ),
    "beats.one_outside": "expected a second of the music, 0 to {duration_s:.1f}, got {one_s:g}",
    "beats.not_found": ("no beat was found in the music", "tap along once, or set the counts by hand"),
    "midi.too_long": ("the MIDI file goes on for {quarters:.4g} quarters, which no music does", "export it again"),
    "midi.damaged": ("the MIDI file is damaged or cut short", "export it again"),
    "midi.separate_songs": ("the MIDI file holds separate songs", "export one song as format 0 or 1"),
    "midi.film_frames": ("the MIDI file counts in film frames and not in beats", "export it in beats"),
    "network.no_weights": (
        "the weights of the network that hears beats are missing or damaged",
        "install tempo_coach again; until then beats are found without the network",
    ),
    "taps.no_numbers": "some taps are not numbers",
    "taps.too_fast": ("expected up to {most_hz:g} taps a second, got {taps} in {span_s:.3g} s", "tap along once more"),
    "taps.few": ("expected at least 4 taps inside the music, got {taps}", "tap along once more"),
    "count.none_near": ("no count is near {at_s:.2f} s", "go to a count, or add one there"),
    "eight.length": "expected an eight of {least} to {most} counts, got {counts}",
    "count.before_one": ("{at_s:.2f} s lies before the first count 1", "set the one first"),
    "count.past_next": "a count cannot be moved to {to_s:.2f} s, past the one beside it",
    "counts.two_left": "two counts have to be left",
    "count.outside": "{at_s:.2f} s lies outside the counts",
    "counts.too_close": ("the counts would be too close together", "they are fast enough as they are"),
    "counts.no_stretch": ("expected two or more counts, one after the other", "tap the stretch once more"),
    "pause.backwards": "a pause ends on a later count than it begins",
    "pause.no_room": ("there is no room for a pause between these two counts", "mark the counts around it"),
    "count.not_between": "{at_s:.2f} s does not lie between two counts",
    "counts.do_not_fit": "{counts} counts do not fit into {gap_s:.2f} s",
    "sound.no_room": (
        "long sound cannot be kept in the folder of temporary files ({reason})",
        "make room there, name another one in TMPDIR, or take a shorter part",
    ),
    "count.added_before_music": "a count cannot be added at {at_s:.2f} s: the music begins later",
    "count.added_twice": "a count cannot be added at {at_s:.2f} s: there is one already",
    "sound.empty_file": ("the file is empty", "copy it again from where it came"),
    "sound.other_kind": (
        lambda kind: tr("expected {sound}, got {kind}", sound=tr(_SOUND), kind=tr(_KINDS[kind])),
        "save or export its sound as wav, flac, ogg, opus or mp3",
    ),
    "sound.unknown_kind": lambda: tr("expected {sound}, got {kind}", sound=tr(_SOUND), kind=tr(_KINDS["unknown"])),
    "sound.cut_short": ("the {kind} file is cut short: its end is missing", "copy it again from where it came"),
    "sound.name_ends": (
        "expected a name that ends in {endings}, got {name!r}",
        lambda nearest: tr("did you mean {nearest}", nearest=nearest) if nearest else "",
    ),
    "file.forbidden": ("the file may not be read", "check its permissions"),
    "film.damaged": (
        lambda kind: tr("this is {kind} that is damaged or cut short", kind=tr(_KINDS[kind])),
        "copy it again from the phone",
    ),
    "film.other_kind": (
        lambda kind: tr("expected {film}, got {kind}", film=tr(WANTED["film"]), kind=tr(_KINDS[kind])),
        "choose the film itself",
    ),
    "film.no_sound_there": "the film has no sound there",
    "film.no_sound_in_it": "the film has no sound in it",
    "film.no_decoder": (
        "films and m4a, aac, mp4 or mov sound need a part that is not installed",
        "install it with: pip install 'tempo_coach[film]'",
    ),
    "film.no_sound": ("the film has no sound", "film with the microphone on"),
    "sound.no_channels": ("the sound is damaged: it has no channels", "copy it again from the phone"),
    "sound.ends_before": "the sound ends at {length_s:.1f} s, before the part begins",
    "film.sound_damaged": ("the film's sound is damaged or cut short", "copy it again from the phone"),
    "sound.rate": "expected a usual sample rate, got {rate_hz} Hz",
    "sound.too_long": (
        "the sound goes on for {minutes:.0f} minutes; up to {most_minutes:.0f} are read at once",
        "take the part that is needed: tempo-coach listen FILE --from S --to S --cut PART.wav",
    ),
    "sound.damaged": (
        "expected a whole {kind} file, but it is damaged or cut short",
        "copy it again from where it came",
    ),
    "sound.none_in_file": "the file holds no sound",
    "sound.shorter_than_told": (
        "the {kind} file is cut short: it announces {told_s:.1f} s and holds {length_s:.1f} s",
        "copy it again from where it came",
    ),
    "sound.no_numbers": ("some samples are not numbers", "export the sound again"),
    "sound.no_encoder": (
        "the libraries of this machine do not write {kind}",
        "choose a name that ends in .wav, or install a newer soundfile: pip install -U soundfile",
    ),
    "cut.no_places": (
        "expected two places of the music with - between",
        "eights as 3-10, counts in them as 3:5-10:4, seconds as 12.5s-60s, or start and end: 17-end",
    ),
    "cut.backwards": ("the piece ends before it starts", "name the earlier place first"),
    "cut.beyond_music": (
        "the piece goes beyond the music, which has {eights} eights in {duration_s:.1f} s",
        "tempo-coach listen shows where each lies",
    ),
    "cut.no_such_count": (
        "there is no count {count} in eight {eight}, which has {length}",
        "tempo-coach counts shows them",
    ),
    "cut.in_pause": (
        "there the counts pause, from {start_s:.2f} to {end_s:.2f} s, and nothing can be joined",
        "name the count before the pause or behind it",
    ),
    "cut.piece_short": ("a piece is shorter than {least_s:g} s", "keep more of it, or leave it out"),
    "cut.fade_long": ("a fade of {fade_s:g} s is longer than the last piece, which has {piece_s:.1f} s", "fade faster"),
    "sound.not_written": "the sound could not be written ({reason})",
    "music.not_slowed": ("the music could not be slowed down", "make room on the disk, try again"),
    "music.slowing_failed": "the music could not be slowed down ({said})",
    "music.slowing_refused": ("the music could not be slowed down ({reason})", "make room there"),
}
