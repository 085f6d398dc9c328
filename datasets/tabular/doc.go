// Package tabular understands tables of landmarks, whatever file they come out of, and makes recordings of their rows.
//
// Two kinds of table are read. A wide one has a column for each coordinate of each landmark and a row for each frame:
// left_knee_x, LeftKnee.X, "left knee:X" and the like. A long one has a row for each landmark and frame, with columns
// such as frame, landmark, x, y, z in any order.
//
// A column of time or of frame numbers orders the rows. Columns of the player, session, hitting hand and height, and
// labels such as trial, take or serve, hold one value for a recording: rows in which any of them differs belong to
// another recording of the same file.
package tabular
