//! Which values of a spec can be built.

use super::error::PhantomError;
use super::parts::{CanalSpec, FileSpec, ToothShape};
use super::spec::PhantomSpec;

impl PhantomSpec {
    /// Checks every value against what the renderer can build.
    pub fn check(&self) -> Result<(), PhantomError> {
        check_canal(&self.canal)?;
        let canal = &self.canal;
        let tooth = &self.tooth;
        within("tooth.crown_height_mm", tooth.crown_height_mm, 3.0, 14.0)?;
        within("tooth.crown_width_mm", tooth.crown_width_mm, 3.0, 14.0)?;
        within(
            "tooth.neck_width_mm",
            tooth.neck_width_mm,
            2.0,
            tooth.crown_width_mm,
        )?;
        within("tooth.crown_depth_mm", tooth.crown_depth_mm, 2.0, 14.0)?;
        within("tooth.root_depth_ratio", tooth.root_depth_ratio, 0.5, 3.0)?;
        within(
            "tooth.apex_beyond_foramen_mm",
            tooth.apex_beyond_foramen_mm,
            0.0,
            1.5,
        )?;
        within("tooth.apex_aside_mm", tooth.apex_aside_mm, 0.0, 1.0)?;
        within("tooth.apex_side_deg", tooth.apex_side_deg, -360.0, 360.0)?;
        if canal.path_length_mm() < tooth.crown_height_mm + 4.0 {
            return Err(PhantomError::Contradiction(
                "the root is shorter than 4 mm: lengthen the canal or lower the crown",
            ));
        }
        if let Some(file) = &self.file {
            check_file(file, canal)?;
        }
        for second in &self.clutter.second_files {
            let own = second.beside.as_ref().map(|beside| &beside.canal);
            if own.is_none() && tooth.shape != ToothShape::LowerMolar {
                return Err(PhantomError::Contradiction(
                    "a second file in another root needs a molar",
                ));
            }
            check_canal(own.unwrap_or(canal))?;
            check_file(&second.file, own.unwrap_or(canal))?;
        }
        for (key, value, low, high) in super::clutter::bounds(&self.clutter) {
            within(key, value, low, high)?;
        }
        if let Some(ball) = self.ball {
            within("ball.diameter_mm", ball.diameter_mm, 0.5, 12.0)?;
            within("ball.centre_mm[0]", ball.centre_mm[0], -60.0, 60.0)?;
            within("ball.centre_mm[1]", ball.centre_mm[1], -60.0, 60.0)?;
        }
        if let Some(ruler) = self.ruler {
            within("ruler.divisions", f64::from(ruler.divisions), 1.0, 40.0)?;
            within("ruler.start_mm[0]", ruler.start_mm[0], -60.0, 60.0)?;
            within("ruler.start_mm[1]", ruler.start_mm[1], -60.0, 60.0)?;
        }
        let view = &self.view;
        within(
            "view.source_to_detector_mm",
            view.source_to_detector_mm,
            100.0,
            3000.0,
        )?;
        within(
            "view.object_to_detector_mm",
            view.object_to_detector_mm,
            0.0,
            50.0,
        )?;
        within("view.lean_deg", view.lean_deg, -45.0, 45.0)?;
        within("view.inclination_deg", view.inclination_deg, -90.0, 90.0)?;
        within(
            "view.detector_tilt_deg",
            view.detector_tilt_deg,
            -45.0,
            45.0,
        )?;
        within("view.turn_deg", view.turn_deg, -180.0, 180.0)?;
        within("view.tube_shift_deg", view.tube_shift_deg, -45.0, 45.0)?;
        within(
            "view.tooth_centre_mm[0]",
            view.tooth_centre_mm[0],
            -40.0,
            40.0,
        )?;
        within(
            "view.tooth_centre_mm[1]",
            view.tooth_centre_mm[1],
            -40.0,
            40.0,
        )?;
        within("view.focal_spot_mm", view.focal_spot_mm, 0.0, 3.0)?;
        within(
            "view.quarter_turns",
            f64::from(view.quarter_turns),
            0.0,
            3.0,
        )?;
        let detector = &self.detector;
        within(
            "detector.width_px",
            f64::from(detector.width_px),
            16.0,
            8192.0,
        )?;
        within(
            "detector.height_px",
            f64::from(detector.height_px),
            16.0,
            8192.0,
        )?;
        within(
            "detector.pixel_pitch_mm[0]",
            detector.pixel_pitch_mm[0],
            0.005,
            0.5,
        )?;
        within(
            "detector.pixel_pitch_mm[1]",
            detector.pixel_pitch_mm[1],
            0.005,
            0.5,
        )?;
        within("detector.bits", f64::from(detector.bits), 8.0, 16.0)?;
        if let Some(photons) = detector.photons {
            within("detector.photons", photons, 10.0, 1e9)?;
        }
        within("detector.blur_mm", detector.blur_mm, 0.0, 0.5)?;
        within("detector.black_depth", detector.black_depth, -1.0, 5.0)?;
        within(
            "detector.white_depth",
            detector.white_depth,
            detector.black_depth + 0.1,
            20.0,
        )?;
        let look = &self.look;
        within("look.bone_contrast", look.bone_contrast, 0.0, 3.0)?;
        within("look.bone_density", look.bone_density, 0.1, 3.0)?;
        within("look.trabecula_mm", look.trabecula_mm, 0.3, 5.0)?;
        within(
            "look.crest_below_neck_mm",
            look.crest_below_neck_mm,
            0.0,
            10.0,
        )?;
        within("look.ligament_mm", look.ligament_mm, 0.05, 1.0)?;
        within("look.lamina_mm", look.lamina_mm, 0.05, 1.0)
    }
}

/// Refuses what lies outside, NaN too.
fn within(key: &'static str, value: f64, low: f64, high: f64) -> Result<(), PhantomError> {
    if value >= low && value <= high {
        return Ok(());
    }
    Err(PhantomError::OutOfRange {
        key,
        value,
        low,
        high,
    })
}

fn check_canal(canal: &CanalSpec) -> Result<(), PhantomError> {
    within(
        "canal.reference_to_orifice_mm",
        canal.reference_to_orifice_mm,
        2.0,
        20.0,
    )?;
    within("canal.straight_mm", canal.straight_mm, 0.0, 30.0)?;
    within("canal.bends (count)", canal.bends.len() as f64, 0.0, 48.0)?;
    for bend in &canal.bends {
        within("canal.bends.turn_deg", bend.turn_deg, -90.0, 90.0)?;
        within("canal.bends.radius_mm", bend.radius_mm, 1.0, 1000.0)?;
        within(
            "canal.bends.straight_after_mm",
            bend.straight_after_mm,
            0.0,
            30.0,
        )?;
        within("canal.bends.plane_deg", bend.plane_deg, -180.0, 180.0)?;
    }
    within("canal path length", canal.path_length_mm(), 8.0, 45.0)?;
    within("canal.orifice_width_mm", canal.orifice_width_mm, 0.1, 2.0)?;
    within("canal.foramen_width_mm", canal.foramen_width_mm, 0.05, 1.5)?;
    within("canal.depth_ratio", canal.depth_ratio, 0.5, 4.0)?;
    within(
        "canal.calcified_apical_mm",
        canal.calcified_apical_mm,
        0.0,
        30.0,
    )?;
    Ok(())
}

fn check_file(file: &FileSpec, canal: &CanalSpec) -> Result<(), PhantomError> {
    within("file.size", f64::from(file.size), 6.0, 140.0)?;
    within("file.taper", file.taper, 0.0, 0.12)?;
    let longest = file.operative_length_mm.min(canal.path_length_mm() + 6.0);
    within(
        "file.operative_length_mm",
        file.operative_length_mm,
        15.0,
        45.0,
    )?;
    within("file.set_length_mm", file.set_length_mm, 2.0, longest)?;
    within("file.stop_diameter_mm", file.stop_diameter_mm, 1.0, 6.0)?;
    within("file.stop_thickness_mm", file.stop_thickness_mm, 0.3, 3.0)?;
    Ok(())
}
