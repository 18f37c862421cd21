//! Drawings as PNG.
//!
//! Words are set in the font `DejaVu Sans` (Bitstream Vera licence, in `font/LICENSE.txt` beside it; a subset of 88 kB: Latin, Greek,
//! Cyrillic, signs), carried in the program so that a PNG is the same everywhere. Signs that are not in it show as empty
//! boxes there; in the SVG the reader's own fonts serve.

use std::sync::{Arc, LazyLock};

use resvg::{tiny_skia, usvg};

/// The font of all drawings.
static FONT: &[u8] = include_bytes!("font/DejaVuSans.ttf");

static FONTS: LazyLock<Arc<usvg::fontdb::Database>> = LazyLock::new(|| {
    let mut fonts = usvg::fontdb::Database::new();
    fonts.load_font_data(FONT.to_vec());
    fonts.set_sans_serif_family("DejaVu Sans");
    Arc::new(fonts)
});

/// Why a drawing has no PNG.
#[derive(Debug, thiserror::Error)]
pub enum NoPng {
    /// The drawing is none.
    #[error("the drawing cannot be read: {0}")]
    Drawing(#[from] usvg::Error),
    /// The picture is larger than can be made.
    #[error("a picture of {0} by {1} pixels cannot be made")]
    Size(u32, u32),
    /// The picture cannot be written.
    #[error("the picture cannot be written: {0}")]
    Encoding(String),
}

/// Draws an SVG file's text at twice its size, so that it prints sharp.
///
/// # Errors
/// When the text is no drawing.
pub fn png(svg: &str) -> Result<Vec<u8>, NoPng> {
    const SCALE: f32 = 2.0;
    let options = usvg::Options {
        font_family: "DejaVu Sans".to_owned(),
        fontdb: Arc::clone(&FONTS),
        ..usvg::Options::default()
    };
    let tree = usvg::Tree::from_str(svg, &options)?;
    let size = tree.size();
    let (width, height) = (
        (size.width() * SCALE).ceil() as u32,
        (size.height() * SCALE).ceil() as u32,
    );
    let mut picture = tiny_skia::Pixmap::new(width, height).ok_or(NoPng::Size(width, height))?;
    resvg::render(
        &tree,
        tiny_skia::Transform::from_scale(SCALE, SCALE),
        &mut picture.as_mut(),
    );
    picture.encode_png().map_err(|error| NoPng::Encoding(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_leave_ink_and_nonsense_is_refused() {
        let drawing = |words: &str| {
            format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"80\" height=\"20\"><rect width=\"80\" height=\"20\" fill=\"#fff\"/>\
                 <text x=\"4\" y=\"15\" font-family=\"DejaVu Sans\" font-size=\"13\">{words}</text></svg>"
            )
        };
        let with = png(&drawing("−71 dBm")).unwrap();
        assert!(with.starts_with(b"\x89PNG") && with.len() > png(&drawing("")).unwrap().len() + 100);
        assert!(png("no drawing").is_err());
    }
}
