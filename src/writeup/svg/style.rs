//! How drawings look: colours that colour-blind eyes tell apart (Okabe and Ito 2008), each with a shape, a dash or a word
//! beside it; light on paper, dark where the reader's screen is dark.

/// The style sheet of every drawing, within a page and in its own file.
///
/// `f-m…` are marks of delivery classes, `f-s0` … strokes of series, `f-a0` … their bands, `f-p0` … their marks,
/// `f-b0` … marks and bars of series laid over each other.
pub const STYLE: &str = "\
.f-bg{fill:#ffffff}
.f-ax{stroke:#3b4045;stroke-width:1.2;fill:none}
.f-gr{stroke:#d7dade;stroke-width:1;fill:none}
.f-tx{fill:#1b1f23;font:15px \"DejaVu Sans\",Verdana,sans-serif}
.f-ts{fill:#4a5057;font:13px \"DejaVu Sans\",Verdana,sans-serif}
.f-tb{fill:#1b1f23;font:bold 15px \"DejaVu Sans\",Verdana,sans-serif}
.f-ta{fill:#1b1f23;font:26px \"DejaVu Sans\",Verdana,sans-serif}
.f-ha{stroke:#ffffff;stroke-width:3.5;stroke-linejoin:round;fill:#ffffff;font:13px \"DejaVu Sans\",Verdana,sans-serif}
.f-st{fill:#1b1f23;stroke:#ffffff;stroke-width:1.5}
.f-sn{fill:#ffffff;font:bold 13px \"DejaVu Sans\",Verdana,sans-serif}
.f-mg{fill:#0072b2;stroke:#ffffff;stroke-width:.6}
.f-mh{fill:#e69f00;stroke:#5c4000;stroke-width:.8}
.f-ml{fill:#ffffff;stroke:#c04a00;stroke-width:1.8}
.f-mf{fill:#8a9097}
.f-gl{stroke:#1b1f23;stroke-width:1.3;stroke-dasharray:2 4;fill:none}
.f-ne{stroke:#c04a00;stroke-width:1.8;stroke-dasharray:8 4;fill:none}
.f-lo{stroke:#c04a00;stroke-width:1.6;fill:none}
.f-d1{fill:#4a5057;fill-opacity:.38}
.f-d2{fill:#4a5057;fill-opacity:.62}
.f-d3{fill:#1b1f23;fill-opacity:.85}
.f-cg{fill:#0072b2;fill-opacity:.85}
.f-cm{fill:#e69f00;fill-opacity:.8}
.f-cp{fill:#c04a00;fill-opacity:.28}
.f-cx{stroke:#c04a00;stroke-width:1.1;fill:none}
.f-cu{fill:#8a9097;fill-opacity:.22}
.f-ce{fill:#eef0f2;stroke:#c3c8cd;stroke-width:1}
.f-s0{stroke:#0072b2;stroke-width:2.4;fill:none}
.f-s1{stroke:#c04a00;stroke-width:2.4;fill:none;stroke-dasharray:9 5}
.f-s2{stroke:#00805d;stroke-width:2.4;fill:none;stroke-dasharray:2.5 4}
.f-s3{stroke:#9c4f82;stroke-width:2.4;fill:none;stroke-dasharray:11 4 2.5 4}
.f-s0,.f-s1,.f-s2,.f-s3{stroke-linejoin:round}
.f-b0{stroke:#0072b2;stroke-width:1.3;fill:#0072b2}
.f-b1{stroke:#c04a00;stroke-width:1.3;fill:#c04a00}
.f-b2{stroke:#00805d;stroke-width:1.3;fill:#00805d}
.f-b3{stroke:#9c4f82;stroke-width:1.3;fill:#9c4f82}
.f-x0{stroke:#0072b2;stroke-width:2;fill:none;stroke-dasharray:5 4}
.f-a0{fill:#0072b2;fill-opacity:.18}
.f-a1{fill:#c04a00;fill-opacity:.15}
.f-p0{fill:#0072b2;stroke:#ffffff;stroke-width:1}
.f-p1{fill:#ffffff;stroke:#c04a00;stroke-width:1.8}
.f-e0{stroke:#1b1f23;stroke-width:1.3;fill:none}
@media screen and (prefers-color-scheme:dark){
.f-bg{fill:#15181b}
.f-ax{stroke:#b9c0c7}
.f-gr{stroke:#343a40}
.f-tx,.f-tb,.f-ta{fill:#eceff1}
.f-ts{fill:#b4bbc2}
.f-ha{stroke:#15181b;fill:#15181b}
.f-st{fill:#eceff1;stroke:#15181b}
.f-sn{fill:#15181b}
.f-mg{fill:#56b4e9;stroke:#15181b}
.f-mh{fill:#e69f00;stroke:#ffd98a}
.f-ml{fill:#15181b;stroke:#ff8a4c}
.f-mf{fill:#8a9097}
.f-gl{stroke:#eceff1}
.f-ne,.f-lo,.f-cx{stroke:#ff8a4c}
.f-d1,.f-d2{fill:#b4bbc2}
.f-d3{fill:#eceff1}
.f-cg{fill:#56b4e9}
.f-cp{fill:#ff8a4c}
.f-ce{fill:#20252a;stroke:#444b52}
.f-s0,.f-x0{stroke:#56b4e9}
.f-s1{stroke:#ff8a4c}
.f-s2{stroke:#3ecfa3}
.f-s3{stroke:#e39ac6}
.f-b0{stroke:#56b4e9;fill:#56b4e9}
.f-b1{stroke:#ff8a4c;fill:#ff8a4c}
.f-b2{stroke:#3ecfa3;fill:#3ecfa3}
.f-b3{stroke:#e39ac6;fill:#e39ac6}
.f-a0{fill:#56b4e9;fill-opacity:.22}
.f-a1{fill:#ff8a4c;fill-opacity:.2}
.f-p0{fill:#56b4e9;stroke:#15181b}
.f-p1{fill:#15181b;stroke:#ff8a4c}
.f-e0{stroke:#eceff1}
}
";
