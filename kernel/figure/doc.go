// Package figure draws single serves as stick figures, with the lines that a measure is defined by.
package figure
