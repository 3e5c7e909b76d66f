// Package figure draws figures from an audit: curves of cumulative revision,
// and what else is best seen. It computes no statistics of its own: every
// number drawn comes from the audit or its curves.
//
// # The way through
//
//  1. A constructor, such as [Curves], takes an audit and options and returns a
//     [Figure]: a drawing, the numbers it draws, and words about both.
//  2. [Figure.WriteSVG], [Figure.WritePNG] and [Figure.WritePDF] write the
//     drawing, [Figure.PlacePDF] puts it into a PDF document of the caller's,
//     [Figure.WriteCSV] writes its numbers.
//
// The same figure gives the same bytes each time.
//
// # What holds for every figure
//
// Lengths are points, 1/72 of an inch. A figure is as wide as the text of an A4
// page unless told otherwise, and as high as it needs to be.
//
// Colours can be told apart by readers who are colour-blind, and never stand
// alone: each goes with a pattern of dashes and the shape of a marker, so that
// a print in black and white says the same. Bands are the colour of their
// curve, made light.
//
// Text is in Liberation Sans, which is part of the program, or in a font given
// to [ReadFont]. In SVG it is text that a reader's own fonts draw; in PNG and PDF
// letters that the font lacks are shown as their code points, such as U+738B.
// Arabic letters are drawn unjoined there.
//
// Words from a table may be anything. They lose control characters, are cut to
// the room there is, keep their own direction of writing, and are escaped.
package figure
