import { Module } from '@nestjs/common';
import { BiasSweepResolver, CurveResolver, DeviceLotResolver, DeviceResolver, DeviceUnitResolver, TripTestResolver } from './device.resolver.js';
import { DeviceService } from './device.service.js';

@Module({ providers: [DeviceService, DeviceResolver, DeviceLotResolver, DeviceUnitResolver, CurveResolver, BiasSweepResolver, TripTestResolver] })
export class DeviceModule {}
