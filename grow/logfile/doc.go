// Package logfile reads the files of data loggers, whoever made them: the room's
// thermometer and the steriliser's probes alike. Start at [Read].
//
// A logger writes a table of text, one row a moment, in its own way: UTF-8,
// UTF-16 or Latin-1; some lines about the device above the table; commas,
// semicolons or tabs between cells; decimal points or commas; °C or °F; cells
// left empty or filled with dashes where a reading is missing; a date and an hour
// in one cell or two, an hour alone that begins anew at midnight, minutes since
// the start, seconds since 1970. Read finds the table; [Sheet.Probes] takes each
// column of temperatures for one probe, [Sheet.Room] reads the columns that a
// [RoomMap] names.
//
// Nothing is made up: what is missing stays missing, a row that cannot be read is
// named, what was assumed is said. On the night when clocks go back a time is the
// first of its two hours until the file's own order says that it is the second;
// an hour that clocks skipped is no time of a clock on the wall.
//
// The package reads no clock and no file, and knows neither rooms nor runs.
package logfile
